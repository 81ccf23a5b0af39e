"""How past forecasts did, in words: who is better is said only where chance could not have made it."""

import duckdb
import polars as pl
import pytest

from dashboards.answers import foresight
from dashboards.charts.shortage import stock_against_shortage
from tests.dashboards import snapshots
from tests.dashboards.snapshot_rows import AS_OF, Fleet, frame, write
from tests.dashboards.visits import drawings, opened, said

BASE = {"parts": 30, "days": 8, "forecasts": 240, "held_50": 0.6, "held_80": 0.85, "held_90": 0.93, "held_95": 0.97}
BASE |= {"loss": 0.4, "loss_ratio": 1.0, "mean_ratio": 1.0, "verdict": "within chance"}
CHANCE = {"loss_ratio": 1.02, "lower": 0.96, "upper": 1.08, "p_value": 0.5, "adjusted_p": 0.8}
SURE = {"loss_ratio": 0.8, "lower": 0.7, "upper": 0.9, "p_value": 0.001, "adjusted_p": 0.004, "verdict": "better"}


def scores(*more, part="all", days=8):
    rows = [
        {**BASE, "method": "as used", "verdict": "in use"},
        {**BASE, "method": "installed base", "verdict": "in use"},
    ]
    rows += [{**BASE, "method": name, **CHANCE} for name in foresight.SIMPLE]
    rows.append({**BASE, "method": "pooled rate", **CHANCE})
    changed = {row["method"]: row for row in more}
    own = {"part_no": part, "days": days, **({} if part == "all" else {"forecasts": days, "parts": 1})}
    return frame("forecast_score", [{**row, **changed.get(row["method"], {}), **own} for row in rows])


def test_without_a_difference_nobody_is_named():
    told = foresight.told_of_all(scores(), AS_OF)
    assert told.sentence == (
        "On eight past days, what should be enough in 18 of 20 cases was enough in 93 of 100. "
        "No other way was better beyond chance."
    )
    assert told.state == "ink"
    assert "**240 forecasts**  ·  30 parts  ·  eight past days" in told.evidence
    assert told.notes[0].endswith("a difference of 6 of 100 of the loss can hide in chance.")


def test_who_is_better_beyond_chance_is_named_with_how_much():
    told = foresight.told_of_all(scores({"method": "SBA", **SURE}), AS_OF)
    assert told.sentence.endswith("Better beyond chance: SBA lost 0.80 times as much.")


def test_few_days_are_in_pencil_and_name_nobody():
    few = scores(*({"method": name, "verdict": "too few", "lower": None} for name in foresight.SIMPLE), days=2)
    told = foresight.told_of_all(few.with_columns(forecasts=pl.lit(12)), AS_OF)
    assert told.state == "pencil"
    assert "So few days name no better way." in told.sentence


@pytest.mark.parametrize(
    ("verdicts", "says"),
    [
        ({}, "no way can be told from another"),
        (dict.fromkeys(foresight.SIMPLE, "worse"), "what is used earned its place: every simple way lost more"),
        ({"TSB": "worse"}, "what is used did better than TSB; the others cannot be told from it"),
        ({"TSB": "worse", "SBA": "better"}, "SBA did better than what is used, beyond chance"),
        ({"TSB": "too few"}, "too few days or parts to tell"),
    ],
)
def test_which_way_earned_its_place_for_a_part(verdicts, says):
    rows = scores(*({"method": name, "verdict": verdict} for name, verdict in verdicts.items()), part="A")
    assert says in foresight.earned(rows)
    assert foresight.parts_listed(rows)["which way"].to_list() == [foresight.earned(rows)]
    assert foresight.told_of_part(rows, "A").startswith("A: the bound held on 7 of 8 past days; ")
    assert foresight.told_of_part(rows, "B") == ""


def test_where_the_rate_was_ahead_it_is_said_with_the_chance_of_it():
    ahead = {"method": "pooled rate", "loss_ratio": 0.8}
    told = foresight.told_of_part(scores(ahead, part="A"), "A")
    assert told.endswith(
        "Its rate of use alone lost 0.80 times as much, which chance alone can make; a change of part, a campaign or "
        "cars that left could be behind it."
    )
    sure = foresight.told_of_part(scores({**ahead, **SURE, "method": "pooled rate"}, part="A"), "A")
    assert "chance alone can make" not in sure
    assert "Its rate of use" not in foresight.told_of_part(scores({**ahead, "loss_ratio": 0.95}, part="A"), "A")
    assert "Its rate of use" not in foresight.told_of_part(scores(ahead, part="A", days=7), "A")


def curves():
    rows = [
        {"method": name, "quantile": q, "forecasts": 240, "stocked": stocked + k / 10, "missing": 30 * (1 - q) + k}
        for k, name in enumerate(("as used", "installed base", *foresight.SIMPLE))
        for q, stocked in ((0.5, 2.0), (0.8, 3.5), (0.9, 4.4), (0.95, 5.1))
    ]
    return frame("shortage_curve", rows)


def test_the_way_in_use_is_drawn_once():
    listed, drawn = foresight.shown(scores(), curves())
    assert "installed base" not in drawn["method"].to_list()
    assert "installed base" not in listed["method"].to_list()
    ways = foresight.methods_listed(listed)
    assert ways["loss beside ours"].to_list()[:2] == ["", "1.02 times (could be 0.96 to 1.08)"]


def test_the_curve_names_every_way_and_has_no_colour_of_its_own():
    spec = str(stock_against_shortage(curves(), ours="as used").to_dict())
    assert all(name in spec for name in ("as used", *foresight.SIMPLE))
    assert "#" not in spec


def checked_fleet(folder):
    fleet = Fleet()
    snapshots._stock(fleet)
    fleet.rows["forecast_score"] = [*scores().to_dicts(), *scores(part="SL-6101").to_dicts()]
    fleet.rows["shortage_curve"] = curves().to_dicts()
    return write(folder, fleet.rows, "2026-11-24-checked1")


def test_the_page_shows_the_backtest_and_the_chosen_part(tmp_path, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(checked_fleet(tmp_path)))
    test = opened("shelf")
    assert not test.exception
    text = said(test)
    assert "On eight past days, what should be enough in 18 of 20 cases was enough in 93 of 100." in text
    assert "SL-6101: the bound held on 7 of 8 past days" in text
    assert drawings(test) == 2


@pytest.mark.parametrize("kind", ["rich", "sales"])
def test_without_a_backtest_the_page_says_what_to_run(kind, folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders[kind]))
    test = opened("shelf")
    assert not test.exception
    assert "run `wearledger backtest`" in said(test)


def test_a_snapshot_of_before_without_the_tables_opens_all_the_same(tmp_path, monkeypatch):
    folder = checked_fleet(tmp_path)
    with duckdb.connect(str(folder / "snapshots" / "2026-11-24-checked1.duckdb")) as connection:
        for name in ("forecast_check", "forecast_score", "shortage_curve", "part_fit", "demand_car", "order_choice"):
            connection.execute(f"drop table {name}")
        for name in ("fits", "supplier", "unit_cost", "available", "shelf_life_months", "oldest_made_on"):
            connection.execute(f"alter table reorder drop column {name}")
    monkeypatch.setenv("WEARLEDGER_DATA", str(folder))
    test = opened("shelf")
    assert not test.exception
    assert "run `wearledger backtest`" in said(test)
