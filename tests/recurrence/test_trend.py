"""Rule 35: whether failures come more or less often, whole cars taken, and of how many rows it may be said."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from analytics.estimators.sign_flips import sign_flip_p_value
from analytics.parameters import Parameters
from analytics.recurrence.intervals import failure_intervals
from analytics.recurrence.trend import detectable_change, trends
from analytics.recurrence.trend_verdict import with_verdict

START = date(2010, 1, 1)
KEY = ["component", "position", "series"]
WORDS = dict.fromkeys(["vehicle_id", "series", "component", "position"], pl.String)
DEFAULTS = Parameters()
CUT = (DEFAULTS.joining_days, DEFAULTS.follow_up_days)


def fleet(cars, days=3652, component="hose", series="S1"):
    """Return faults and watch of cars, each a list of days of failure since it joined."""
    names = [f"{component}-{series}-{k}" for k in range(len(cars))]
    faults = [
        (name, series, component, "only", START + timedelta(days=int(day)))
        for name, failed in zip(names, cars, strict=True)
        for day in failed
    ]
    windows = [(name, series, component, "only", START, START + timedelta(days=days)) for name in names]
    return (
        pl.DataFrame(faults, {**WORDS, "visit_day": pl.Date}, orient="row"),
        pl.DataFrame(windows, {**WORDS, "start_on": pl.Date, "end_on": pl.Date}, orient="row"),
    )


def trend(cars, **more):
    return trends(*fleet(cars, **more), ["component"], DEFAULTS).row(0, named=True)


def uneven(seed, cars=40, growth=1.0, most=4):
    """Cars with up to so many failures each, days by a rate that grows so much in ten years."""
    rng = np.random.default_rng(seed)
    log = np.log(growth) or 1e-12
    inner = 3652 - sum(CUT)
    draws = [rng.random(rng.integers(0, most + 1)) for _ in range(cars)]
    return [CUT[0] + 1 + inner * np.log1p(u * np.expm1(log)) / log for u in draws]


def test_rule_35_the_trend_is_laplace_over_each_cars_own_window_with_cars_taken_whole():
    """By hand: per car the days from the middle of its window, over the root of the sum of their squares."""
    cars = [[400, 900], [900], [2000, 3000], [100], [1200], [500], [300]]
    middle = CUT[0] + (3652 - sum(CUT)) / 2
    off = np.array([sum(day - 0.5 - middle for day in failed) for failed in cars])
    found = trend(cars)
    assert found["trend_z"] == pytest.approx(off.sum() / np.sqrt((off**2).sum()))
    assert (found["trend_failures"], found["trend_cars"]) == (9, 7)
    every = np.array(np.meshgrid(*[[-1, 1]] * 7)).reshape(7, -1)
    assert found["trend_p_value"] == pytest.approx((np.abs(off @ every) >= abs(off.sum())).mean(), rel=0.25)


def test_failures_where_none_can_count_say_nothing_of_a_trend():
    """Rule 21 lets none count in the first 60 days, rule 22 hardly any in the last 45."""
    cars = [[400, 900], [900], [2000, 3000], [100], [1200], [500], [300]]
    ends = [[*failed, 20, 3630, 3652] for failed in cars]
    assert trend(ends) == trend(cars)


def test_a_car_that_fails_in_bursts_is_one_witness():
    single = [[3000 + 50 * k] for k in range(8)] + [[900 + 50 * k] for k in range(4)]
    burst = [[day[0] + n for n in range(6)] for day in single]
    assert trend(burst)["trend_p_value"] == pytest.approx(trend(single)["trend_p_value"], rel=0.05)


def test_fewer_cars_than_chance_could_tell_give_counts_alone():
    found = trend([[3000 + k, 3100 + k, 3200 + k] for k in range(5)])
    assert (found["trend_failures"], found["trend_cars"]) == (15, 5)
    assert found["trend_p_value"] is found["yearly_change"] is found["trend_z"] is None
    assert trend([[3000 + k, 3100 + k] for k in range(6)])["trend_p_value"] == pytest.approx(2**-5)


@pytest.mark.parametrize("seed", range(6))
def test_limits_leave_out_no_change_exactly_where_the_test_refuses_it(seed):
    found = trend(uneven(seed, growth=1.5))
    outside = not found["yearly_change_lower"] <= 1 <= found["yearly_change_upper"]
    assert outside == (found["trend_p_value"] < 1 - DEFAULTS.confidence)
    assert found["yearly_change_lower"] < found["yearly_change"] < found["yearly_change_upper"]


def test_the_yearly_change_is_that_of_the_records():
    found = trend(uneven(3, cars=2000, growth=3.0))
    # 3,547 days = 9.71 years
    assert found["yearly_change"] == pytest.approx(3.0 ** (1 / 9.71), abs=0.01)


def test_time_turned_round_turns_the_trend_round():
    cars = uneven(5, growth=2.0)
    turned = [[CUT[0] + 3652 - CUT[1] + 1 - np.floor(day) for day in failed] for failed in cars]
    one, other = trend([[np.floor(day) for day in failed] for failed in cars]), trend(turned)
    assert other["trend_z"] == pytest.approx(-one["trend_z"])
    assert other["trend_p_value"] == pytest.approx(one["trend_p_value"])
    assert other["yearly_change_upper"] == pytest.approx(1 / one["yearly_change_lower"], rel=1e-4)


def test_all_failures_at_one_end_give_numbers_still():
    late = trend([[3600]] * 12)
    assert late["trend_p_value"] == pytest.approx(2**-11)
    assert 1 < late["yearly_change_lower"] < late["yearly_change"] < np.inf


def rows_of(*tables):
    faults, watch = (pl.concat(frames) for frames in zip(*tables, strict=True))
    faults = faults.with_columns(used=pl.lit(value=True), position_inferred=pl.lit(value=False))
    days = (pl.col("end_on") - pl.col("start_on")).dt.total_days()
    watch = watch.with_columns(vehicle_days=days, km=pl.lit(None, pl.Int64))
    gaps = pl.DataFrame(schema={**WORDS, "days": pl.Int64, "event": pl.Int64})
    return failure_intervals(faults, watch, gaps, DEFAULTS)


LATE, EARLY = [[3000 + 40 * k] for k in range(12)], [[100 + 40 * k] for k in range(12)]
NONE = [[100 + 300 * k] for k in range(12)]


def test_rule_35_a_trend_is_told_of_the_component_first():
    """Two series that go opposite ways are no trend of the component, and of neither is one told."""
    table = rows_of(fleet(LATE, series="S1"), fleet(EARLY, series="S2"))
    assert table.filter(series="S1")["trend_p_value"].max() < 0.001
    assert set(table["trend"]) == {"steady"}


def test_rule_35_series_are_told_where_the_component_has_a_trend():
    table = rows_of(fleet(LATE, series="S1"), fleet(LATE[2:], series="S2"), fleet(NONE, series="S3"))
    verdict = dict(table.filter(position="all").select("series", "trend").rows())
    assert verdict == {"all": "worsening", "S1": "worsening", "S2": "worsening", "S3": "steady"}
    whole = table.filter(series="all", position="all")["trend_adjusted_p"].item()
    assert (table["trend_adjusted_p"].drop_nulls() >= whole).all()


def test_rule_35_rows_of_a_component_are_no_tests_beside_those_of_others():
    """By hand: two components, p and 2 p after Benjamini and Hochberg, however many series they have."""
    parts = [fleet(NONE[k : k + 6], component="pump", series=f"S{k}") for k in range(6)]
    table = rows_of(fleet(LATE), *parts)
    hose = table.filter(component="hose", series="all").row(0, named=True)
    assert hose["trend_adjusted_p"] == pytest.approx(2 * hose["trend_p_value"])
    assert hose["trend"] == "worsening"


def test_rule_35_four_failures_are_too_few_for_a_trend():
    table = rows_of(fleet([[day] for day in (100, 200, 300, 400)]))
    assert set(table["trend"]) == {"too little to say"}
    assert table["trend_adjusted_p"].is_null().all()
    assert table["detectable_yearly_change"].is_null().all()


def test_a_change_that_would_be_noticed_grows_with_what_is_looked_at_and_is_none_where_cars_are_few():
    spread, cars = pl.Series([0.05, 0.05]), pl.Series([100, 7])
    alone, among = detectable_change(spread, cars, 0.05), detectable_change(spread, cars, 0.05 / 40)
    # (1.960 + 0.842) standard deviations: normal quantiles
    assert alone[0] == pytest.approx(np.exp(2.8016 * 0.05), rel=1e-3)
    assert among[0] > alone[0]
    # of 7 cars the least p-value is 1/64
    assert alone[1] == alone[0]
    assert among[1] is None


@pytest.mark.parametrize(("parts", "least"), [(7, 0.5), (10, 0.5), (13, 0.7)])
def test_signs_drawn_anew_agree_with_every_way_of_drawing_them(parts, least):
    rng = np.random.default_rng(parts)
    every = np.array(np.meshgrid(*[[-1, 1]] * parts)).reshape(parts, -1).T
    values = np.abs(rng.normal(size=(60, parts))) * np.where(rng.random((60, parts)) < 0.75, 1, -1)
    exact = np.array([(np.abs(every @ v) >= abs(v.sum()) - 1e-9).mean() for v in values])
    found = sign_flip_p_value(values.ravel(), np.repeat(np.arange(60), parts), 60)
    ratio = found / exact
    assert ratio.min() > least
    assert ratio[exact < 0.2].max() < 1.7
    assert np.median(ratio) == pytest.approx(1, abs=0.06)


def test_a_group_without_parts_has_no_chance_told():
    assert np.isnan(sign_flip_p_value(np.array([]), np.array([], dtype=np.int64), 1)).all()


def test_verdicts_need_no_rows():
    schema = {**dict.fromkeys(KEY, pl.String), "trend_cars": pl.Int64}
    schema |= dict.fromkeys(["trend_z", "trend_p_value", "yearly_spread"], pl.Float64)
    assert with_verdict(pl.DataFrame(schema=schema), DEFAULTS).is_empty()
