"""Engine lives of 166 city buses, all of them first seen with miles on: what late entry changes.

Records: Rust (1987), Econometrica 55(5), 999-1033, as published by OpenSourceEconomics/zurcher-data.
Reference: R 4.2.2, survival 3.5-3, survfit(Surv(entry, exit, event) ~ 1), default limits (log).
"""

import polars as pl
import pytest
from numpy.testing import assert_allclose

from analytics.estimators import kaplan_meier
from analytics.scales import KM_PER_MILE
from tests.estimators.cases import SHARED


@pytest.fixture(scope="module")
def lives():
    """Engine lives in km: from the first reading or the last replacement to the next, or to the last reading."""
    folder = SHARED / "open_data" / "zurcher_buses"
    if not folder.is_dir():
        pytest.skip("the buses' records lie in ../shared/open_data, which is absent")
    seen = pl.read_csv(folder / "odometer.csv").group_by("bus_id")
    seen = seen.agg(first=pl.col("odometer").min(), last=pl.col("odometer").max())
    buses = pl.read_csv(folder / "buses.csv").join(seen, on="bus_id", validate="1:1").sort("bus_id")
    renewed = [pl.col("odo_repl_1"), pl.col("odo_repl_2")]
    original = buses.select(
        entry="first", exit=pl.coalesce(renewed[0], "last"), event=renewed[0].is_not_null().cast(pl.Int64)
    )
    second = buses.filter(renewed[0].is_not_null()).select(
        entry=pl.lit(0, pl.Int64),
        exit=pl.coalesce(renewed[1], "last") - renewed[0],
        event=renewed[1].is_not_null().cast(pl.Int64),
    )
    third = buses.filter(renewed[1].is_not_null()).select(
        entry=pl.lit(0, pl.Int64), exit=pl.col("last") - renewed[1], event=pl.lit(0, pl.Int64)
    )
    return pl.concat([original, second, third]).with_columns(pl.col("entry", "exit") * KM_PER_MILE)


def median_miles(curve, column="survival"):
    """The first time at which a curve or one of its limits is down to one half, in whole miles."""
    down = curve.filter(pl.col(column) <= 0.5 + 1e-12)  # a product of fractions may miss one half by a last bit
    return round(down["time"][0] / KM_PER_MILE)


def test_there_are_290_lives_and_124_of_them_ended_in_a_replacement(lives):
    assert (lives.height, lives["event"].sum()) == (290, 124)
    assert lives.filter(pl.col("entry") > 0).height == 166


@pytest.mark.parametrize(
    ("miles", "at_risk", "survival", "std_error"),
    [
        (150_000, 131, 0.8874439, 0.02510845),
        (200_000, 105, 0.6743161, 0.03752664),
        (250_000, 58, 0.4323417, 0.04040191),
        (300_000, 17, 0.1924985, 0.03722033),
    ],
)
def test_the_curve_agrees_with_r(lives, miles, at_risk, survival, std_error):
    km = miles * KM_PER_MILE
    curve = kaplan_meier(lives, transform="log")
    last = curve.filter(pl.col("time") <= km)
    assert_allclose(last["survival"][-1], survival, rtol=1e-6)
    assert_allclose(last["std_error"][-1], std_error, rtol=1e-6)
    # R counts those at risk at the next time that ends a life
    ends = lives.filter(pl.col("exit") >= km)["exit"].min()
    assert lives.filter(pl.col("entry") < ends, pl.col("exit") >= ends).height == at_risk


def test_the_median_and_its_limits_agree_with_r(lives):
    curve = kaplan_meier(lives, transform="log")
    assert [median_miles(curve, column) for column in ("lower", "survival", "upper")] == [217_000, 234_800, 251_200]


def test_ignoring_late_entry_would_have_moved_the_median_and_its_limits(lives):
    # R: survfit(Surv(exit, event) ~ 1) gives 235400 (220700, 257400)
    curve = kaplan_meier(lives.with_columns(entry=pl.lit(0.0)), transform="log")
    assert [median_miles(curve, column) for column in ("lower", "survival", "upper")] == [220_700, 235_400, 257_400]


def test_looking_at_replaced_engines_only_would_have_said_212_700_miles(lives):
    failed = lives.filter(pl.col("event") == 1)
    assert median_miles(kaplan_meier(failed.with_columns(entry=pl.lit(0.0)))) == 212_700
    # and their plain average is as far off: 216,354 miles
    assert round(failed["exit"].mean() / KM_PER_MILE) == 216_354
