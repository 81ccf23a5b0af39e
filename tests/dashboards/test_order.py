"""A pack less or more, how long a part keeps, how its forecast was made, and the order list on the page."""

import io
from datetime import date

import fastexcel
import pytest

from analytics.order_list import order_list
from analytics.snapshot import latest_path
from dashboards.answers import ageing, packs, shelf
from dashboards.views import order
from tests.dashboards.snapshot_rows import AS_OF, frame
from tests.dashboards.snapshots import demand_rows
from tests.dashboards.visits import opened, said

BASE = {"part_no": "A", "components": "thermostat", "horizon_days": 55.0, "service_level": 0.9, "method": "pooled rate"}
BASE |= {"repairs": 9, "car_years": 90.0, "reason": "Why.", "on_hand": 1.0, "on_order": 0.0, "reserved": 0.0}


def row(**more):
    return frame("reorder", [{**BASE, **more}]).row(0, named=True)


def mass(*chances):
    lines = [{"part_no": "A", "horizon_days": 55.0, "quantity": q, "probability": p} for q, p in enumerate(chances)]
    return frame("demand", lines)


def test_what_a_pack_less_or_more_means_by_hand():
    """One on the shelf; demand 0, 2, 4 with chances 0.5, 0.3, 0.2.

    Ordering 0: short of 2 and 4, 0.3 x 1 + 0.2 x 3 = 0.9 in vain, 0.5 left; 2: short of 4, 0.2 and 1.8; 4: 0 and 3.6.
    """
    beside = packs.packs_beside(row(pack_size=2, unit_cost=3.5, currency="EUR"), mass(0.5, 0, 0.3, 0, 0.2), 2)
    assert beside.columns == ["ordered", "packs", "runs out in", "asked for in vain", "left over", "costs"]
    assert beside.rows() == [
        (0, 0, "50 of 100", 0.9, 0.5, "0.00 EUR"),
        (2, 1, "20 of 100", 0.2, 1.8, "7.00 EUR"),
        (4, 2, "0 of 100", 0.0, 3.6, "14.00 EUR"),
    ]


@pytest.mark.parametrize(("ordered", "sizes"), [(0, [0, 10]), (10, [0, 10, 12]), (12, [10, 12, 14]), (2, [0, 2, 10])])
def test_no_size_below_the_smallest_order_is_proposed(ordered, sizes):
    beside = packs.packs_beside(row(pack_size=2, minimum_order=10), mass(0.5, 0.5), ordered)
    assert beside["ordered"].to_list() == sizes
    assert "costs" not in beside.columns
    assert packs.how_to_read(row(minimum_order=10), ordered or 10).split("smallest order is 10.")[1:] == (
        [" This one is less, so that it is used before it ages: ask for fewer, or some may be lost."]
        if 0 < ordered < 10
        else [""]
    )


def test_at_the_snapshots_own_order_its_own_choices_are_shown():
    base = {"part_no": "A", "p_short": 0.1, "expected_short": 0.2, "expected_left": 3.0, "packs": 1, "cost": 7.0}
    chosen = frame(
        "order_choice",
        [
            {**base, "choice": "advised", "quantity": 4, "lasts_months": 8.0, "p_aged": 0.02},
            {**base, "choice": "nothing", "quantity": 0, "packs": 0, "p_short": 0.8, "cost": 0.0},
            {**base, "choice": "smaller pack", "quantity": 0, "packs": 0, "p_short": 0.8, "cost": 0.0},
        ],
    )
    shown = packs.choices_told(chosen, row(pack_size=4, currency="EUR"))
    assert shown["ordered"].to_list() == [0, 4]
    assert shown["lasts"].to_list() == ["over 2 years", "8 months"]
    assert shown["some ages in"].to_list() == [None, "2 of 100"]
    assert shown["costs"].to_list() == ["0.00 EUR", "7.00 EUR"]
    assert "some ages in" not in packs.choices_told(chosen.tail(1), row()).columns


def test_of_a_large_order_the_next_one_is_a_tenth_away():
    assert packs.packs_beside(row(), mass(0.5, 0.5), 47)["ordered"].to_list() == [42, 47, 52]
    assert packs.packs_beside(row(pack_size=6), mass(0.5, 0.5), 96)["ordered"].to_list() == [84, 96, 108]


def test_the_table_counts_as_the_drawing_does():
    """Without an order and with it the table's share is that of the whole distribution the outlooks are drawn from."""
    lines = frame("demand", demand_rows("A", 55.0, 7.2))
    beside = packs.packs_beside(row(pack_size=6), lines, 6)
    short = [float(lines.filter(lines["quantity"] > 1 + size)["probability"].sum()) for size in (0, 6, 12)]
    assert beside["runs out in"].to_list() == [f"{100 * s:.0f} of 100" for s in short]


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({}, ""),
        ({"components": "brake hose"}, "no shelf life is stated: look at the day it was made"),
        ({"shelf_life_months": 84.0}, "Keeps 7 years from the day it was made: look at that day"),
        ({"shelf_life_months": 84.0, "oldest_made_on": date(2024, 11, 24)}, "was made 2 years ago. Use the oldest"),
        ({"shelf_life_months": 60.0, "oldest_made_on": date(2020, 11, 24)}, "should not be fitted any more"),
    ],
)
def test_how_long_a_part_keeps_counts_from_the_day_it_was_made(more, says):
    told = ageing.keeps(row(**more), AS_OF)
    assert says in told
    assert bool(told) == bool(says)


def test_the_method_is_said_and_what_the_rate_alone_would_keep():
    assert ageing.how_foretold(row()).endswith("whatever the age of the parts.")
    base = {"method": "installed base", "reorder_point": 14}
    assert ageing.how_foretold(row(**base, rate_point=9)).endswith("would keep 9 in place of 14.")
    assert ageing.how_foretold(row(**base, rate_point=14)).endswith("says the same.")
    assert ageing.how_foretold(row(basis="rate of sales, no lead time")).startswith("Foretold from its sales alone")
    assert ageing.how_foretold(row(method="too little to say")) == ""


def test_an_answer_holds_the_look_alike_the_shelf_life_and_the_method():
    need = shelf.outlooks(mass(0.5, 0.5))
    told = shelf.shelf_answer(row(looks_like="B", shelf_life_months=84.0), need, 1, AS_OF).notes
    assert told[0] == "Why."
    assert told[1] == "Looks alike and does not fit: B."
    assert told[2].startswith("Keeps 7 years")
    assert told[3].startswith("Foretold from its rate of use")


def test_the_page_offers_the_list_and_its_files_are_those_of_the_command(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    test = opened("shelf")
    assert not test.exception
    assert "One part to order, at one supplier" in said(test)
    assert [button.proto.label for button in test.get("download_button")] == ["Order list, workbook", "Order list, CSV"]
    path = latest_path(folders["rich"])
    listed = order_list(path)
    made = fastexcel.read_excel(order._workbook(str(path))).load_sheet("order").to_polars()
    assert made["part"].to_list() == listed.rows["part"].to_list() == ["SL-6101"]
    assert io.BytesIO(order._csv(str(path))).readline().startswith(b"supplier,part,serves")


@pytest.mark.parametrize("kind", ["thin", "buses", "sales", "nothing"])
def test_without_a_stock_count_no_list_is_offered(kind, folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders[kind]))
    test = opened("shelf")
    assert not test.exception
    assert not test.get("download_button")
    assert "The order list" not in said(test)


def test_the_cars_behind_a_forecast_come_by_what_is_expected_of_them():
    rows = [("a", 2, 0.9, 0.2), ("b", 1, 0.5, 0.41), ("c", 4, 1.0, None)]
    cars = [
        dict(zip(("vehicle_id", "units", "presence", "expected"), each, strict=True)) | {"part_no": "A"}
        for each in rows
    ]
    shown = ageing.cars_behind(frame("demand_car", cars))
    assert shown["vehicle_id"].to_list() == ["b", "a", "c"]
    assert shown["still comes, likely"].to_list() == ["50 of 100", "90 of 100", "100 of 100"]


def test_rule_39_of_a_critical_part_cars_are_named_and_nothing_is_expected_of_one():
    rows = [{"vehicle_id": car, "units": 1, "presence": p, "part_no": "A"} for car, p in (("a", 0.2), ("b", 0.9))]
    shown = ageing.cars_behind(frame("demand_car", rows))
    assert shown.columns == ["vehicle_id", "fitted there", "still comes, likely"]
    assert shown["vehicle_id"].to_list() == ["b", "a"]
