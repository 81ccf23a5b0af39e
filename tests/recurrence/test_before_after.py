"""Modifications: time cut and counted, what the same cars would have had, and the verdict."""

from datetime import date

import numpy as np
import polars as pl
import pytest
from scipy import stats

from analytics.estimators.seeds import generator
from analytics.parameters import Parameters
from analytics.recurrence.before_after import before_after
from analytics.recurrence.own_history import SHAPES, Watched, history_of, unmodified_draws
from analytics.recurrence.watched_cells import NEVER, watched_cells

PLACE = dict.fromkeys(["component", "vehicle_id", "position"], pl.String)


def modifications(*rows):
    """Rows of car, day of the visit, until."""
    days = dict.fromkeys(["visit_day", "from_on", "to_on", "until_on"], pl.Date)
    return pl.DataFrame(
        [("hose", car, "only", "modified", "guard", on, on, on, until) for car, on, until in rows],
        schema={**PLACE, "kind": pl.String, "modification": pl.String, **days},
        orient="row",
    )


def faults(*rows):
    return pl.DataFrame(
        [("hose", car, "only", on, True) for car, on in rows],
        schema={**PLACE, "visit_day": pl.Date, "used": pl.Boolean},
        orient="row",
    )


def watch(*cars, start=date(2010, 1, 1), end=date(2020, 1, 1)):
    return pl.DataFrame(
        [("hose", car, "only", "S1", start, end) for car in cars],
        schema={**PLACE, "series": pl.String, "start_on": pl.Date, "end_on": pl.Date},
        orient="row",
    )


def renewals(*rows):
    return pl.DataFrame([("hose", car, "only", on) for car, on in rows], schema={**PLACE, "day": pl.Date}, orient="row")


DONE = date(2015, 1, 1)


def told(fault_rows, done=(("a", DONE, None),), cars="ab", renewed=()):
    found = before_after(modifications(*done), faults(*fault_rows), watch(*cars), renewals(*renewed), Parameters())
    return found.row(0, named=True)


def test_the_failure_that_led_to_it_counts_with_the_unmodified_and_not_before():
    row = told([("a", date(2012, 3, 1)), ("a", DONE), ("a", date(2018, 5, 1)), ("b", date(2016, 1, 1))])
    assert row["led_to_it"] == 1
    assert (row["before_failures"], row["after_failures"]) == (1, 1)
    assert row["before_years"] == pytest.approx(5, abs=0.01)
    assert row["after_years"] == pytest.approx(5, abs=0.01)
    assert (row["vehicles"], row["first_on"]) == (1, DONE)


def test_unmodified_cars_count_in_the_calendar_years_of_the_modified_ones():
    row = told([("b", date(2012, 1, 1)), ("b", date(2016, 1, 1)), ("b", date(2017, 1, 1))])
    assert row["unmodified_failures"] == 2
    assert row["unmodified_years"] == pytest.approx(5, abs=0.01)
    assert row["unmodified_rate"] == pytest.approx(100 * 2 / row["unmodified_years"])


def test_limits_of_rates_are_exact():
    """Garwood (1936), by chi-square points."""
    row = told([("a", date(2012, 3, 1)), ("a", date(2018, 5, 1))])
    per = 100 / row["after_years"]
    assert row["after_lower"] == pytest.approx(stats.chi2.ppf(0.05, 2) / 2 * per)
    assert row["after_upper"] == pytest.approx(stats.chi2.ppf(0.95, 4) / 2 * per)


def test_few_failures_give_no_verdict():
    row = told([("a", date(2018, 5, 1))])
    assert row["verdict"] == "too few"
    assert row["expected"] is row["ratio"] is row["lower"] is None


def test_modified_time_ends_where_another_design_is_fitted_again():
    row = told([("a", date(2018, 5, 1))], done=(("a", DONE, date(2017, 1, 1)),))
    assert row["after_years"] == pytest.approx(2, abs=0.01)
    assert row["after_failures"] == 0


def test_a_car_that_joined_modified_has_no_time_before():
    row = told([("a", date(2012, 1, 1))], done=(("a", date(2009, 1, 1), None),))
    assert (row["before_failures"], row["before_years"], row["after_failures"]) == (0, 0.0, 1)


def test_nothing_modified_gives_no_row():
    assert before_after(modifications(), faults(), watch("a"), renewals(), Parameters()).is_empty()


def test_time_and_failures_are_cut_by_the_time_since_the_last_renewal_and_all_of_it_is_kept():
    cells = watched_cells(
        modifications(("a", DONE, None)),
        faults(("a", date(2010, 6, 1)), ("a", date(2013, 6, 1)), ("a", date(2019, 6, 1))),
        watch("a", "b"),
        renewals(("a", date(2012, 1, 1)), ("a", DONE)),
    )
    assert cells["days"].sum() == 2 * 3652
    of_a = cells.filter(pl.col("vehicle_id") == "a")
    days = {key: part["days"].sum() for key, part in of_a.group_by("modified", "since")}
    assert days == {
        (False, NEVER): 730,
        (False, 0): 365,
        (False, 1): 731,
        (True, 0): 365,
        (True, 1): 731,
        (True, 2): 730,
    }
    failed = of_a.filter(pl.col("failures") > 0).select("modified", "year", "since")
    assert set(failed.rows()) == {(False, 2010, NEVER), (False, 2013, 1), (True, 2019, 2)}


PUMPS = ([5, 1, 5, 14, 3, 19, 1, 1, 4, 22], [94.32, 15.72, 62.88, 125.76, 5.24, 31.44, 1.048, 1.048, 2.096, 10.48])


def history_of_pumps():
    failures, hours = (np.array(column, dtype=np.float64) for column in PUMPS)
    zero, car = np.zeros(10, dtype=np.int64), np.arange(10)
    return history_of(Watched(car, zero, zero, zero, hours, failures), 10, (1, 1, 1))


def test_rates_of_pumps_are_those_of_the_gamma_poisson_model_of_a_general_program():
    """Gaver and O'Muircheartaigh (1987), Technometrics 29, 1-15; fit by R MASS glm.nb: shape 0.82227, rate 1.25895.

    Shapes are tried on a grid of steps of 13 %, hence the tolerance.
    """
    history = history_of_pumps()
    shape = float(SHAPES[int(np.argmax(history.chance.max(axis=1)))])
    assert shape == pytest.approx(0.8222686547781346, rel=0.07)
    means = (shape + history.failures) / (shape + history.usual) * history.usual / np.array(PUMPS[1])
    published = [0.060916, 0.107325, 0.090776, 0.116693, 0.588136, 0.606205, 0.789902, 0.789902, 1.437357, 1.944148]
    assert means.tolist() == pytest.approx(published, rel=0.03)


def test_what_cars_would_have_had_follows_their_own_history():
    history = history_of_pumps()
    one = np.zeros(1, dtype=np.int64)

    def mean(car):
        later = Watched(np.array([car]), one, one, one, np.array([10.0]), np.zeros(1))
        return unmodified_draws(history, later, 20_000, generator(car)).mean()

    assert mean(9) == pytest.approx(10 * 1.944148, rel=0.08)
    assert mean(0) == pytest.approx(10 * 0.060916, rel=0.08)


def test_cars_that_do_not_differ_are_not_told_apart():
    rng = np.random.default_rng(1)
    zero = np.zeros(300, dtype=np.int64)
    even = rng.poisson(2.0, 300).astype(np.float64)
    history = history_of(Watched(np.arange(300), zero, zero, zero, np.full(300, 10.0), even), 300, (1, 1, 1))
    assert float(SHAPES[int(np.argmax(history.chance.max(axis=1)))]) > 10
    assert history.usual.sum() == pytest.approx(even.sum(), rel=0.02)
