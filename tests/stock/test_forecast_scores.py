"""Which way of foretelling earned its place: differences by hand, and no winner where there is none."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from analytics.stock.backtest import Foretold, forecast_checks
from analytics.stock.forecast_scores import AS_USED, EVERY_PART, forecast_scores, shortage_curves

ORIGIN = date(2020, 1, 1)
GAP = 182


def said(part, method, day, bound):
    """A forecast whose every bound is the same."""
    mass = np.zeros(12)
    mass[bound] = 1.0
    return Foretold(part, method, ORIGIN + timedelta(days=GAP * day), 90.0, mass, float(bound))


def checks(bounds, needed, methods=("pooled rate", "SBA")):
    """`bounds` by method, part and day; `needed` by part and day."""
    forecasts = [
        said(part, method, day, bound)
        for method in methods
        for part, days in bounds[method].items()
        for day, bound in enumerate(days)
    ]
    schema = {"part_no": pl.String, "origin": pl.Date, "horizon_days": pl.Float64, "happened": pl.Int64}
    rows = [
        (part, ORIGIN + timedelta(days=GAP * day), 90.0, parts)
        for part, days in needed.items()
        for day, parts in enumerate(days)
    ]
    return forecast_checks(forecasts, pl.DataFrame(rows, schema=schema, orient="row"))


def row(scores, method, part=EVERY_PART):
    return scores.row(by_predicate=(pl.col("part_no") == part) & (pl.col("method") == method), named=True)


EIGHT = [2, 3, 2, 4, 2, 3, 2, 4]
OTHERS = "BCDEFGH"
"""Parts that both ways foretell alike, so that a difference of part A stands out among parts."""


def beside(used, other, days=8):
    """Bounds of part A by the way in use and by SBA, with the others, and what was needed: 2 of each on each day."""
    alike = {part: [3] * days for part in OTHERS}
    return checks(
        {"pooled rate": {"A": used, **alike}, "SBA": {"A": other, **alike}}, {p: [2] * days for p in "A" + OTHERS}
    )


def test_the_ratio_of_losses_by_hand():
    """Bounds 3 and 5, needed 2: losses 1 and 3 times the mean of 1 - p over .5, .8, .9, .95, so the ratio is 3."""
    scores = forecast_scores(beside([3] * 8, [5] * 8))
    assert row(scores, "SBA", "A")["loss_ratio"] == pytest.approx(3.0)
    assert row(scores, "SBA", "A")["loss"] == pytest.approx(3 * np.mean([0.5, 0.2, 0.1, 0.05]))
    assert row(scores, AS_USED, "A")["verdict"] == row(scores, "pooled rate", "A")["verdict"] == "in use"
    assert (row(scores, "SBA")["parts"], row(scores, "SBA")["days"], row(scores, "SBA")["forecasts"]) == (8, 8, 64)


def test_limits_and_p_value_of_one_part_are_those_of_students_law_on_days():
    """Against NumPy: differences of eight days, seven degrees of freedom, 1.894579 from a table of Student's law."""
    bounds = [5, 4, 6, 4, 5, 7, 3, 5]
    scores = forecast_scores(beside([3] * 8, bounds))
    usual = np.mean([0.5, 0.2, 0.1, 0.05])
    off = usual * (np.array(bounds) - 3.0)
    half = 1.894579 * off.std(ddof=1) / np.sqrt(8)
    told = row(scores, "SBA", "A")
    assert told["lower"] == pytest.approx(1 + (off.mean() - half) / usual, rel=1e-5)
    assert told["upper"] == pytest.approx(1 + (off.mean() + half) / usual, rel=1e-5)
    assert told["verdict"] == "worse"


def test_limits_never_contradict_the_p_value():
    draw, judged = np.random.default_rng(4), 0
    for _ in range(20):
        needed = {part: draw.poisson(2, 8).tolist() for part in "ABC"}
        bounds = {m: {part: draw.poisson(2, 8).tolist() for part in "ABC"} for m in ("pooled rate", "SBA")}
        for told in (
            forecast_scores(checks(bounds, needed)).filter(pl.col("p_value").is_not_null()).iter_rows(named=True)
        ):
            assert (told["lower"] <= 1 <= told["upper"]) == (told["p_value"] >= 0.10)
            judged += 1
    assert judged >= 20


def test_the_installed_base_is_what_is_used_where_there_is_one():
    bounds = {
        "installed base": {"A": EIGHT},
        "pooled rate": {"A": [9] * 8, "B": EIGHT},
        "SBA": {"A": EIGHT, "B": EIGHT},
    }
    scores = forecast_scores(checks(bounds, {"A": EIGHT, "B": EIGHT}, tuple(bounds)))
    assert row(scores, AS_USED, "A")["loss"] == row(scores, "installed base", "A")["loss"] == 0
    assert row(scores, "pooled rate", "A")["loss"] > 0
    assert row(scores, AS_USED)["forecasts"] == 16


def test_a_part_that_the_way_in_use_could_not_foretell_is_not_compared():
    bounds = {"pooled rate": {"A": EIGHT}, "SBA": {"A": EIGHT, "B": EIGHT}}
    scores = forecast_scores(checks(bounds, {"A": EIGHT, "B": EIGHT}))
    assert "B" not in scores["part_no"].to_list()


def test_few_days_name_nobody_however_clear_they_look():
    scores = forecast_scores(beside([9] * 5, [2] * 5, days=5))
    told = row(scores, "SBA", "A")
    assert told["verdict"] == "too few"
    assert told["p_value"] is told["lower"] is told["upper"] is None


def test_a_part_without_others_to_hold_it_against_is_not_judged():
    """What luck comes to is seen between parts alone; all parts together are judged by their days."""
    scores = forecast_scores(checks({"pooled rate": {"A": [9] * 8}, "SBA": {"A": EIGHT}}, {"A": EIGHT}))
    assert row(scores, "SBA", "A")["verdict"] == "too few"
    assert row(scores, "SBA")["verdict"] == "better"


def test_a_part_that_differs_no_more_than_the_others_is_not_named():
    """Each of eight parts is foretold better by one way or the other on all days alike: luck of its records."""
    up = {part: [5 if k % 2 else 3] * 8 for k, part in enumerate("A" + OTHERS)}
    down = {part: [3 if k % 2 else 5] * 8 for k, part in enumerate("A" + OTHERS)}
    scores = forecast_scores(checks({"pooled rate": up, "SBA": down}, {part: [2] * 8 for part in "A" + OTHERS}))
    assert set(scores.filter(pl.col("method") == "SBA")["verdict"]) == {"within chance"}


def test_days_whose_horizons_overlap_count_as_one():
    """Ten days half a year apart and a horizon of two years are three blocks, too few."""
    far = [
        Foretold(f.part_no, f.method, f.origin, 730.0, f.mass, f.mean)
        for method, bound in (("pooled rate", 9), ("SBA", 2))
        for f in (said("A", method, day, bound) for day in range(10))
    ]
    known = pl.DataFrame(
        {"part_no": "A", "origin": [ORIGIN + timedelta(days=GAP * d) for d in range(10)], "horizon_days": 730.0}
    ).with_columns(happened=pl.lit(2))
    assert row(forecast_scores(forecast_checks(far, known)), "SBA", "A")["verdict"] == "too few"


def test_one_odd_part_names_no_winner_for_all():
    """Nine parts are foretold alike; one is so much better by SBA that its days alone would be sure."""
    parts = "ABCDEFGHIJ"
    bounds = {m: {part: [3] * 8 for part in parts} for m in ("pooled rate", "SBA")}
    bounds["pooled rate"]["J"] = [11] * 8
    scores = forecast_scores(checks(bounds, {part: [2] * 8 for part in parts}))
    assert row(scores, "SBA", "J")["verdict"] == "better"
    assert row(scores, "SBA")["verdict"] == "within chance"


def test_nothing_shown_is_not_finite_even_where_nothing_was_lost():
    scores = forecast_scores(checks({"pooled rate": {"A": EIGHT}, "SBA": {"A": [9] * 8}}, {"A": EIGHT}))
    told = row(scores, "SBA", "A")
    assert told["loss_ratio"] is None
    for name, kind in scores.schema.items():
        assert not kind.is_float() or scores[name].drop_nulls().is_finite().all()


def test_no_check_is_no_score():
    empty = checks({"pooled rate": {}, "SBA": {}}, {})
    assert forecast_scores(empty).is_empty()
    assert shortage_curves(empty).is_empty()


def test_stock_against_shortage_by_hand():
    """Kept 3 and 1 on average of A and B; needed 4 and 2 each day: of 6 parts 1 + 1 are missing, 33 of 100."""
    bounds = {"pooled rate": {"A": [3] * 8, "B": [1] * 8}, "SBA": {"A": [4] * 8}}
    curves = shortage_curves(checks(bounds, {"A": [4] * 8, "B": [2] * 8}))
    assert set(curves["method"]) == {AS_USED, "pooled rate"}  # SBA did not foretell B
    assert curves["stocked"].unique().to_list() == [2.0]
    assert curves["missing"].unique().to_list() == pytest.approx([100 / 3])
