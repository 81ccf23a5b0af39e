"""Change of readings in a year, each car against itself: a general library, a known truth, and by hand."""

import numpy as np
import polars as pl
import pytest
import statsmodels.api as sm
from numpy.testing import assert_allclose

from analytics.estimators.drift import drift


def simulated(rng, cars, per_year, spread=0.3, shift=0.0):
    """Cars that read differently, come in different years, and drift by so much a year."""
    rows = []
    for car in range(cars):
        level, start = rng.normal(12.5, 0.5), rng.uniform(0, 10)
        years = np.sort(start + rng.uniform(0, 6, rng.integers(1, 6)))
        values = level + shift * start + per_year * years + rng.normal(0, spread, years.size)
        rows += [{"vehicle_id": f"c{car:03d}", "years": t, "value": v} for t, v in zip(years, values, strict=True)]
    return pl.DataFrame(rows)


def test_agrees_with_least_squares_with_a_term_for_each_car_and_clustered_errors():
    rows = simulated(np.random.default_rng(2), 12, -0.1)
    told = drift(rows, confidence=0.90).row(0, named=True)
    several = rows.filter(pl.len().over("vehicle_id") > 1)
    cars = several["vehicle_id"].to_numpy()
    names, number = np.unique(cars, return_inverse=True)
    design = np.column_stack([several["years"].to_numpy(), np.eye(names.size)[number]])
    fit = sm.OLS(several["value"].to_numpy(), design).fit(
        cov_type="cluster", cov_kwds={"groups": number, "use_correction": False, "df_correction": True}, use_t=True
    )
    assert told["cars"] == names.size
    assert_allclose(told["per_year"], fit.params[0], rtol=1e-9)
    half = (told["upper"] - told["lower"]) / 2
    plain = fit.conf_int(0.10)[0]
    # the library leaves the factor for few cars out here; ours is G / (G - 1)
    assert_allclose(half, (plain[1] - plain[0]) / 2 * np.sqrt(names.size / (names.size - 1)), rtol=1e-9)


def test_two_groups_by_hand():
    up = [(f"u{k}", y, 10 + k + 0.5 * y) for k in range(5) for y in (0.0, 2.0)]
    few = [("f1", 0.0, 1.0), ("f1", 3.0, 7.0), ("f2", 1.0, 5.0)]
    rows = pl.DataFrame(
        [
            {"of": of, "vehicle_id": c, "years": y, "value": v}
            for of, them in (("up", up), ("few", few))
            for c, y, v in them
        ]
    )
    told = {row["of"]: row for row in drift(rows, ["of"]).to_dicts()}
    assert told["up"]["per_year"] == pytest.approx(0.5)
    assert told["up"]["lower"] == pytest.approx(0.5)
    assert told["few"] | {"of": ""} == {
        "of": "",
        "cars": 1,
        "per_year": None,
        "lower": None,
        "upper": None,
        "status": "too few",
    }


def test_cars_that_read_high_and_come_late_look_like_no_drift():
    told = drift(simulated(np.random.default_rng(4), 60, 0.0, shift=0.3)).row(0, named=True)
    assert told["lower"] < 0 < told["upper"]
    assert abs(told["per_year"]) < 0.05


def test_limits_of_a_known_drift_hold():
    # 400 fleets of 15 cars, seed 6; Monte Carlo error 0.015
    rng = np.random.default_rng(6)
    parts = [simulated(rng, 15, -0.08).with_columns(fleet=pl.lit(k)) for k in range(400)]
    told = drift(pl.concat(parts), ["fleet"], confidence=0.90).filter(pl.col("status") == "ok")
    held = ((told["lower"] <= -0.08) & (told["upper"] >= -0.08)).mean()
    assert told.height > 390
    assert 0.85 <= held <= 0.94
    assert told["per_year"].mean() == pytest.approx(-0.08, abs=0.005)


def test_nothing_read_and_nobody_read_twice():
    empty = pl.DataFrame(schema={"of": pl.String, "vehicle_id": pl.String, "years": pl.Float64, "value": pl.Float64})
    assert drift(empty, ["of"]).columns == ["of", "cars", "per_year", "lower", "upper", "status"]
    assert drift(empty, ["of"]).is_empty()
    once = pl.DataFrame({"vehicle_id": ["a", "b"], "years": [1.0, 2.0], "value": [3.0, 4.0]})
    assert drift(once)["status"].to_list() == ["too few"]
    same_day = pl.DataFrame({"vehicle_id": ["a", "a"], "years": [1.0, 1.0], "value": [3.0, 4.0]})
    assert drift(same_day)["cars"].to_list() == [0]
    with pytest.raises(ValueError, match="between 0 and 1"):
        drift(once, confidence=90)
