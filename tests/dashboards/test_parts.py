"""All parts in one list, and what is said of service levels and sales."""

import pytest

from dashboards.answers import parts, shelf
from tests.dashboards.snapshot_rows import AS_OF, frame
from tests.dashboards.snapshots import demand_rows

BASE = {"horizon_days": 55.0, "service_level": 0.9, "repairs": 9, "car_years": 90.0, "reason": "Why."}
BASE |= {"on_order": 0.0, "reserved": 0.0, "pack_size": 1, "components": "battery"}
SOME = [
    {"part_no": "enough", "on_hand": 9.0, "order_quantity": 0, "use_per_month": 3.0, "reorder_point": 4},
    {"part_no": "uncounted, rare", "use_per_month": 0.1, "reorder_point": 1},
    {"part_no": "short", "on_hand": 3.0, "order_quantity": 2, "use_per_month": 1.0, "reorder_point": 5},
    {"part_no": "gone", "on_hand": 0.0, "order_quantity": 5, "use_per_month": 1.0, "reorder_point": 5},
    {"part_no": "uncounted", "use_per_month": 2.0, "components": "not recorded", "reorder_point": 6},
    {"part_no": "refused", "repairs": 0},
]


def ranked(*rows):
    demand = [line for row in rows if "reorder_point" in row for line in demand_rows(row["part_no"], 55.0, 2.0)]
    other = demand_rows("gone", 30.0, 0.0)  # a shorter horizon, at which nothing would run out
    return parts.order_first(frame("reorder", [{**BASE, **row} for row in rows]), frame("demand", demand + other))


def test_what_the_shelf_runs_out_of_most_often_comes_first_and_the_uncounted_by_their_use():
    order = ["gone", "short", "uncounted", "uncounted, rare", "enough", "refused"]
    assert ranked(*SOME)["part_no"].to_list() == order


def test_what_to_order_now_is_said_in_short_with_what_comes_first():
    more = [{**SOME[2], "part_no": f"more {n}", "components": "not recorded", "on_hand": 4.0} for n in range(2)]
    assert parts.in_short(ranked(*SOME, *more)) == (
        "Four parts of 8 are to be ordered now, first: 5 of battery, 2 of battery, 2 of more 0. "
        "Of three parts no order can be told."
    )
    assert parts.in_short(ranked(SOME[0], SOME[2])) == "One part of 2 is to be ordered now: 2 of battery."
    assert parts.in_short(ranked(SOME[0])) == "No part is to be ordered now."
    assert parts.in_short(ranked(SOME[1], SOME[4])) == ""


@pytest.mark.parametrize("row", SOME[:1] + SOME[2:4])
def test_the_list_counts_the_same_outlooks_as_the_part_itself(row):
    full = ranked(row).row(0, named=True)
    need = shelf.outlooks(frame("demand", demand_rows(row["part_no"], 55.0, 2.0)))["need"]
    assert full["short"] == (need > shelf.held(full)).sum()


def test_what_is_on_order_can_be_counted_on_in_the_list_too():
    reserved = {**SOME[3], "on_order": 4.0, "reserved": 1.0}
    assert ranked(reserved)["short"].to_list() == ranked({**SOME[3], "on_hand": 3.0})["short"].to_list()


def test_the_list_shows_what_somebody_stated_and_leaves_the_rest_out():
    shown = parts.listed(ranked(*SOME))
    assert shown.columns == ["part_no", "serves", "a month", "on hand", "reorder point", "order", "runs out in"]
    assert shown["serves"].to_list()[2] is None
    assert shown["runs out in"].to_list()[-3:] == [None, "0 of 20", None]
    assert "on order" in parts.listed(ranked({**SOME[0], "on_order": 1.0})).columns
    assert parts.listed(ranked(SOME[4])).columns == ["part_no", "a month", "reorder point"]


def test_the_list_says_its_service_level_and_what_to_load():
    assert "in 18 of 20 outlooks" in parts.how_to_read(ranked(*SOME))[0]
    assert parts.how_to_read(ranked(*SOME))[1].startswith("3 of 6 parts have no stock count: load a table stock")
    assert parts.how_to_read(ranked(SOME[4]))[1].startswith("No part has a stock count: load a table stock")
    assert len(parts.how_to_read(ranked(SOME[0]))) == 1
    assert "as surely as the costs of each" in parts.how_to_read(ranked(SOME[0], {**SOME[2], "service_level": 0.7}))[0]


@pytest.mark.parametrize(
    ("level", "risk"),
    [(0.9, "2 of 20"), (0.85, "3 of 20"), (0.97, "3 of 100"), (0.99, "1 of 100"), (0.995, "5 of 1000")],
)
def test_the_choice_in_use_is_that_of_the_service_level(level, risk):
    assert shelf.risk_of(level) == risk
    assert shelf.risks(level)[risk] == pytest.approx(level)
    assert list(shelf.risks(level).values()) == sorted(shelf.risks(level).values())


def test_a_service_level_that_no_forecast_can_tell_is_said_as_the_one_used():
    assert shelf.risk_of(0.9999999) == "1 of 1\u202f000\u202f000"


def test_the_order_is_the_snapshots_own_only_at_its_own_level():
    mass = frame("demand", demand_rows("gone", 55.0, 2.0))
    row = ranked({**SOME[3], "service_level": 0.99, "order_quantity": 6}).row(0, named=True)
    assert shelf.proposal(row, mass, "1 of 100") == 6
    assert shelf.proposal(row, mass, "1 of 20") == shelf.enough(mass, 0.95) == 5


def test_without_a_count_the_need_is_said_at_the_level_in_use():
    row = ranked({**SOME[4], "service_level": 0.99}).row(0, named=True)
    need = shelf.outlooks(frame("demand", demand_rows("uncounted", 55.0, 2.0)))
    said = shelf.shelf_answer(row, need, 0, AS_OF).sentence
    assert said == "No stock count is known. In 99 of 100 outlooks at most six parts are needed within 55 days."


def test_a_forecast_from_sales_counts_sales_and_no_repairs():
    row = {**BASE, "repairs": 0, "sales": 6, "sales_years": 3.0}
    assert shelf.facts_of(row, mark="") == ["six parts sold or asked for in 3 years"]
    both = shelf.facts_of({**row, "repairs": 2}, mark="")
    assert both == ["two repairs", "90 car-years", "six parts sold or asked for"]
    assert shelf.facts_of({**row, "sales": None}, mark="")[0] == "no repairs"


def test_parts_sold_are_listed_with_their_use_in_a_month():
    rows = [{**BASE, "part_no": name, "sales": sold, "sales_years": 3.0} for name, sold in (("a", 6), ("b", 18))]
    sold = shelf.sold_lately(frame("reorder", [*rows, {**BASE, "part_no": "never sold", "sales_years": 0.0}]))
    assert sold.select("part_no", "sold or asked for", "a month").rows() == [("b", 18, 0.5), ("a", 6, 0.17)]
    assert shelf.sold_lately(frame("reorder", [{**BASE, "part_no": "a"}])).is_empty()
    unknown = shelf.sold_lately(frame("reorder", [{**rows[0], "components": "not recorded"}]))
    assert unknown.columns == ["part_no", "sold or asked for", "a month"]
