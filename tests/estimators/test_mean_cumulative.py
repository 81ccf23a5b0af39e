"""The mean cumulative count: published curves and errors, multiplicity, clusters, limits for few units."""

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analytics.errors import SpellError
from analytics.estimators import mean_cumulative_function
from tests.estimators.cases import chained, shared_case, spells, typed

CASES = typed("mean_cumulative")
SEATS = CASES["valve_seats"]
ENGINES = chained(
    pl.DataFrame({name: SEATS[name] for name in ("engine", "day", "replaced")}), "engine", "day", "replaced"
)


def test_rule_34_the_error_of_valve_seats_is_the_printed_one():
    # Nelson (1995): 0.1463 ... 1.0143 at 100 ... 600 days; R survival: 0.0552 ... 0.1738, to all printed digits
    curve = mean_cumulative_function(ENGINES, cluster="engine")
    for day, mcf, error in zip(SEATS["printed_day"], SEATS["printed_mcf"], SEATS["printed_std_error"], strict=True):
        last = curve.filter(pl.col("time") <= day)
        assert round(last["mcf"][-1], 4) == mcf, SEATS["source"]
        assert round(last["std_error"][-1], 4) == error, SEATS["command"]


def test_agrees_with_every_row_of_valve_seats():
    curve = mean_cumulative_function(ENGINES, cluster="engine")
    listed = dict(zip(SEATS["time"], zip(SEATS["mcf"], SEATS["std_error"], strict=True), strict=True))
    assert curve["time"].to_list() == sorted(listed)
    assert_allclose(curve.select("mcf", "std_error").to_numpy(), list(listed.values()), rtol=SEATS["rtol"])
    assert curve["events"].sum() == 48


def test_agrees_with_the_five_systems():
    case = CASES["five_systems"]
    rows = chained(pl.DataFrame({name: case[name] for name in ("system", "day", "event")}), "system", "day", "event")
    curve = mean_cumulative_function(rows, cluster="system")
    assert curve["time"].to_list() == case["time"]
    assert_allclose(curve["mcf"], case["mcf"], rtol=case["rtol"], err_msg=case["source"])
    assert_allclose(curve["std_error"], case["std_error"], rtol=case["rtol"], err_msg=case["source"])


def test_agrees_with_three_systems_of_which_two_fail_on_one_day():
    # case mcf_three_systems_hpc: hand-checkable fractions, n.risk 3, 3, 3, 2
    expected, table = shared_case("mcf_three_systems_hpc")
    curve = mean_cumulative_function(chained(table, "system", "months", "event"), cluster="system")
    assert curve["at_risk"].to_list() == expected["n_risk"]
    assert_allclose(curve["mcf"], expected["mcf"], rtol=1e-6)
    assert_allclose(curve["std_error"], expected["se_robust"], rtol=1e-6)


def test_agrees_with_ten_vehicles_that_fail_705_times():
    # case mcf_army_vehicles_exact: R survival 3.5-3, survfit(id =), at 5,000 to 25,000 miles
    expected, table = shared_case("mcf_army_vehicles_exact")
    rows = chained(table.with_columns(failed=(pl.col("event") == "Fail").cast(pl.Int64)), "vehicle", "miles", "failed")
    curve = mean_cumulative_function(rows, cluster="vehicle")
    assert curve["events"].sum() == expected["n_failures"]
    for miles, wanted in expected["mcf_se_at_miles"].items():
        assert_allclose(
            curve.filter(pl.col("time") <= int(miles)).select("mcf", "std_error").row(-1), wanted, rtol=1e-6
        )


def test_two_failures_of_one_day_are_a_multiplicity():
    once = spells(entry=[0, 6, 0], exit=[6, 9, 9], event=[2, 0, 0], unit=["a", "a", "b"])
    curve = mean_cumulative_function(once, cluster="unit")
    assert curve.select("time", "at_risk", "events", "mcf").rows() == [(6, 2, 2, 1.0)]
    # by hand: influence of a (2 - 1) / 2, of b (0 - 1) / 2
    assert_allclose(curve["std_error"], np.sqrt(0.5))


def test_cutting_a_stretch_in_two_changes_nothing():
    cut = spells(entry=[0, 4, 6, 0], exit=[4, 6, 9, 9], event=[0, 2, 0, 0], unit=["a", "a", "a", "b"])
    whole = spells(entry=[0, 6, 0], exit=[6, 9, 9], event=[2, 0, 0], unit=["a", "a", "b"])
    one, other = (mean_cumulative_function(frame, cluster="unit") for frame in (cut, whole))
    assert one.equals(other)


def test_units_of_one_vehicle_that_fail_alike_widen_the_error():
    # four positions that always fail together are one witness, not four
    frame = spells(exit=[5] * 8, event=[1, 1, 1, 1, 0, 0, 0, 0], car=[1, 1, 1, 1, 2, 2, 2, 2])
    alone = mean_cumulative_function(frame)["std_error"][0]
    together = mean_cumulative_function(frame, cluster="car")["std_error"][0]
    assert_allclose(alone, np.sqrt(8 * 0.25) / 8)
    assert_allclose(together, np.sqrt(2 * 2**2) / 8)


def test_a_vehicle_in_two_groups_is_a_cluster_in_each():
    frame = pl.concat([ENGINES.with_columns(side=pl.lit(side)) for side in ("left", "right")])
    curve = mean_cumulative_function(frame, by="side", cluster="engine")
    alone = mean_cumulative_function(ENGINES, cluster="engine")
    for side in ("left", "right"):
        assert curve.filter(pl.col("side") == side).drop("side").equals(alone)


@pytest.mark.parametrize("units", [2, 19, 20, 41])
def test_rule_34_few_units_widen_the_limits_and_not_the_error(units):
    frame = spells(exit=[9] * units, event=[1] + [0] * (units - 1))
    curve = mean_cumulative_function(frame, confidence=0.90)
    mean, error = curve["mcf"][0], curve["std_error"][0]
    assert_allclose(mean, 1 / units)
    assert_allclose(error, np.sqrt((1 - 1 / units) / units**2))
    factor = stats.norm.ppf(0.95)
    if units < 20:
        factor = stats.t.ppf(0.95, units - 1) * np.sqrt(units / (units - 1))
    assert_allclose(curve["upper"][0], mean * np.exp(factor * error / mean))
    assert_allclose(curve["lower"][0], mean * np.exp(-factor * error / mean))


def test_one_unit_alone_has_no_limits():
    curve = mean_cumulative_function(spells(entry=[0, 3], exit=[3, 8], event=[1, 1], car=[1, 1]), cluster="car")
    assert curve["mcf"].to_list() == [1, 2]
    assert curve["std_error"].to_list() == [0, 0]
    assert curve.select("lower", "upper").null_count().row(0) == (2, 2)


def test_refuses_a_negative_count():
    with pytest.raises(SpellError, match="event is not 0 or more in 1 of 2 rows: row 2, event -1"):
        mean_cumulative_function(spells(exit=[5, 6], event=[3, -1]))


def test_a_group_has_the_same_figures_to_the_last_bit_alone_and_among_others():
    rng = np.random.default_rng(3)
    entry = rng.integers(0, 300, 2000)
    frame = pl.DataFrame(
        {
            "kind": rng.integers(0, 5, 2000),
            "car": rng.integers(0, 90, 2000),
            "entry": entry,
            "exit": entry + rng.integers(1, 300, 2000),
            "event": rng.integers(0, 3, 2000),
        }
    )
    alone = mean_cumulative_function(frame.filter(pl.col("kind") == 3), by="kind", cluster="car")
    among = mean_cumulative_function(frame, by="kind", cluster="car").filter(pl.col("kind") == 3)
    assert alone.equals(among)
