"""Forecasts held against what happened: losses and shares by hand, and the whole way on a small ledger."""

import shutil
from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.backtesting import checked
from analytics.checked_snapshot import checked_id
from analytics.cli import main
from analytics.errors import LedgerError
from analytics.parameters import Parameters
from analytics.snapshot import TABLES, latest_path, open_snapshot, read_table
from analytics.stock.backtest import Foretold, forecast_checks, judged, rate_ahead
from tests.fleet import ledger_of
from tests.snapshot_tables import table
from tests.stock.test_methods import AS_OF, hose, shop

ORIGIN = date(2020, 1, 1)


def said(mass, method="pooled rate", origin=ORIGIN, part="P"):
    mass = np.array(mass, float)
    return Foretold(part, method, origin, 90.0, mass, float(mass @ np.arange(mass.size)))


def happened(parts, origin=ORIGIN, part="P"):
    schema = {"part_no": pl.String, "origin": pl.Date, "horizon_days": pl.Float64, "happened": pl.Int64}
    return pl.DataFrame([(part, origin, 90.0, parts)], schema=schema, orient="row")


def test_the_loss_of_each_bound_by_hand():
    """Chances 0.5, 0.3, 0.2 of 0, 1, 2: bounds 0, 1, 2 at 0.5, 0.8, 0.9; two were needed."""
    checks = forecast_checks([said([0.5, 0.3, 0.2])], happened(2), (0.5, 0.8, 0.9))
    assert checks["stated"].to_list() == [0, 1, 2]
    assert checks["score"].to_list() == pytest.approx([0.5 * 2, 0.8 * 1, 0.0])
    nothing = forecast_checks([said([0.5, 0.3, 0.2])], happened(0), (0.5, 0.8, 0.9))
    assert nothing["score"].to_list() == pytest.approx([0.0, 0.2 * 1, 0.1 * 2])


@given(
    st.lists(st.integers(1, 40), min_size=1, max_size=25),
    st.floats(0.02, 0.98),
    st.integers(0, 40),
)
def test_on_average_no_other_bound_loses_less_than_the_true_one(weights, chance, other):
    mass = np.array(weights) / sum(weights)
    demand = np.arange(mass.size)

    def loss(bound):
        return mass @ np.where(demand >= bound, chance * (demand - bound), (1 - chance) * (bound - demand))

    stated = forecast_checks([said(mass)], happened(0), (chance,))["stated"][0]
    assert loss(stated) <= loss(other) + 1e-9


def test_how_often_bounds_held_and_the_mean_over_demand():
    days = [ORIGIN + timedelta(days=100 * k) for k in range(10)]
    checks = forecast_checks(
        [said([0, 0, 1.0], origin=day) for day in days],
        pl.concat([happened(3 if k < 4 else 1, day) for k, day in enumerate(days)]),
        (0.5, 0.9),
    )
    row = judged(checks).row(0, named=True)
    assert (row["forecasts"], row["held_50"], row["held_90"]) == (10, 0.6, 0.6)
    assert row["mean_ratio"] == pytest.approx(2 * 10 / (4 * 3 + 6))


def test_where_nothing_was_needed_there_is_no_ratio():
    assert judged(forecast_checks([said([1.0])], happened(0)))["mean_ratio"].to_list() == [None]


def test_what_did_not_happen_yet_is_not_checked():
    assert forecast_checks([said([1.0], origin=date(2021, 1, 1))], happened(0)).is_empty()


@pytest.mark.parametrize("quantile", [0.0, 1.0, -0.1, float("nan")])
def test_a_quantile_that_is_none_is_refused(quantile):
    with pytest.raises(ValueError, match="between 0 and 1"):
        forecast_checks([], happened(0), (quantile,))


def test_a_rate_that_is_ahead_over_many_days_is_told_and_over_few_is_not():
    def checks(days):
        origins = [ORIGIN + timedelta(days=100 * k) for k in range(days)]
        said_of = {"installed base": [0] * 9 + [1.0], "pooled rate": [0, 0, 1.0]}
        forecasts = [said(mass, method, day) for day in origins for method, mass in said_of.items()]
        return forecast_checks(forecasts, pl.concat([happened(1, day) for day in origins]))

    assert rate_ahead(checks(8)).select("part_no", "origins").rows() == [("P", 8)]
    assert rate_ahead(checks(7)).is_empty()


@pytest.fixture(scope="module")
def tested():
    return checked(shop(), AS_OF, Parameters(), 2, lambda _: None)


def test_every_method_is_held_against_what_happened_over_the_lead_time(tested):
    methods = {"installed base", "pooled rate", "moving average", "Croston", "SBA", "TSB"}
    assert set(tested.checks["method"]) == methods
    assert tested.checks["horizon_days"].unique().to_list() == [180.0]
    assert len(tested.origins) == 2
    assert max(tested.origins) + timedelta(days=180) <= AS_OF
    assert tested.sentences()[0].startswith("2 past days, ")
    assert any(
        line.startswith("SBA") and line.endswith("(Poisson bounds are too narrow)") for line in tested.sentences()
    )


def test_what_happened_is_counted_from_the_records(tested):
    """Three hoses of twelve fail 164 days ago, and each year before: by hand from the days of `shop`."""
    assert [(AS_OF - origin).days for origin in tested.origins] == [362, 180]
    counted = tested.checks.group_by("origin").agg(pl.col("happened").unique()).sort("origin")
    assert counted["happened"].to_list() == [[0], [3]]


def test_nothing_after_an_origin_moves_what_was_foretold_on_it(tested):
    """Rule 6: failures written down later change what happened, not what was said."""
    last = max(tested.origins)
    later = [hose("v1", (AS_OF - last).days - 20 - k) for k in range(9)]
    other = checked(shop(later), AS_OF, Parameters(), 2, lambda _: None)
    columns = ["method", "origin", "quantile", "stated", "mean"]
    assert other.checks.select(columns).equals(tested.checks.select(columns))
    at_last = pl.col("origin") == last
    assert other.checks.filter(at_last)["happened"][0] > tested.checks.filter(at_last)["happened"][0]


def test_records_too_young_for_any_check_are_refused_in_words():
    young = ledger_of(vehicles=[{"vehicle_id": "v0", "series": "S1"}], repairs=[{**hose("v0", 300), "line_no": 1}])
    with pytest.raises(LedgerError, match="no forecast can be checked"):
        checked(young, AS_OF, Parameters(), 8, lambda _: None)


@pytest.fixture(scope="module")
def twenty(twenty_dir, tmp_path_factory):
    """A copy: a backtest publishes a snapshot."""
    return shutil.copytree(twenty_dir, tmp_path_factory.mktemp("checked") / "data")


def test_the_command_tells_every_method_writes_every_check_and_publishes_them(twenty, tmp_path, capsys):
    """Twenty records leave a single past day that has two years before it and a delivery after."""
    bare = latest_path(twenty)
    assert main(["backtest", "--data", str(twenty), "--to", str(tmp_path / "checks.csv")]) == 0
    told = capsys.readouterr().out.splitlines()
    assert told[0].startswith("1 past day, ")
    methods = {"as used", "pooled rate", "moving average", "Croston", "SBA", "TSB"}
    assert {line.split("  ")[0] for line in told[1:-2]} >= methods
    written = pl.read_csv(tmp_path / "checks.csv")
    assert told[-2].endswith(f"{written.height:,} checks")
    assert written["score"].min() >= 0
    assert told[-1] == f"snapshot {latest_path(twenty).stem} holds them; page On the shelf shows them"
    assert latest_path(twenty).stem == checked_id(bare.stem, 8)
    assert table(twenty, "forecast_check").height == written.height
    assert set(table(twenty, "forecast_score")["verdict"]) == {"in use", "too few"}


def test_a_checked_snapshot_holds_the_whole_analysis_and_the_bare_one_stays_as_it_was(twenty):
    checked_path = latest_path(twenty)
    bare = checked_path.with_name(f"{checked_path.stem[:-8]}.duckdb")
    with open_snapshot(bare) as before, open_snapshot(checked_path) as after:
        for name in TABLES:
            frames = read_table(before, name), read_table(after, name)
            if name in ("forecast_check", "forecast_score", "shortage_curve"):
                assert frames[0].is_empty()
                assert frames[1].height
            elif name != "meta":
                assert frames[0].equals(frames[1])
        names = dict(read_table(after, "meta").select("name", "value").iter_rows())
    assert (names["snapshot_id"], names["checked_days"]) == (checked_path.stem, "8")


def test_the_same_backtest_is_found_again_and_an_analysis_keeps_it_the_newest(twenty, capsys):
    path = latest_path(twenty)
    written = path.read_bytes()
    assert main(["backtest", "--data", str(twenty)]) == 0
    assert "what was foretold on" not in capsys.readouterr().err
    assert latest_path(twenty) == path
    assert main(["analyse", "--data", str(twenty)]) == 0
    assert path.stem in capsys.readouterr().out
    assert latest_path(twenty) == path
    assert path.read_bytes() == written


def test_a_damaged_backtest_is_made_again(twenty):
    path = latest_path(twenty)
    path.write_bytes(b"no snapshot")
    assert main(["analyse", "--data", str(twenty)]) == 0
    assert latest_path(twenty).stem == path.stem[:-8]
    assert main(["backtest", "--data", str(twenty)]) == 0
    assert latest_path(twenty) == path
    assert table(twenty, "forecast_check").height


def test_a_checked_snapshot_comes_back_from_a_backup(twenty, tmp_path):
    assert main(["backup", "--data", str(twenty), "--to", str(tmp_path / "all.zip")]) == 0
    assert main(["restore", "--data", str(tmp_path / "back"), str(tmp_path / "all.zip")]) == 0
    assert latest_path(tmp_path / "back").name == latest_path(twenty).name
    assert main(["doctor", "--data", str(tmp_path / "back")]) == 0
