"""Which positions a car has, and which unit a blank line or a pair concerns (rules 15, 16, 17)."""

from datetime import date

import pytest

from analytics.parameters import Parameters
from tests.spells.history_of import FOUR, car, history, job, own_order, places, rows

NEVER_WHOLE = Parameters(blank_position_share=1.0)
SLOTS = "select vehicle_id, position from slot where component = 'hose' order by all"


def slots(**tables):
    return rows(history(**tables), SLOTS)


def repairs(lines, columns="position", parameters=NEVER_WHOLE, **tables):
    connection = history(repairs=lines, parameters=parameters, **{"components": places(), **tables})
    return rows(connection, f"select {columns} from repair order by closed_on, order_id, position")


def test_rule_15_the_table_of_components_tells_the_positions_by_series():
    components = [*places(positions=("front", "rear"), series="S1"), *places(positions=("front",), series="S2")]
    lines = [job("2001-01-01", "belt", vehicle_id=v) for v in "ABC"]
    found = slots(vehicles=[car("A"), car("B", "S2"), car("C", "S3")], components=components, repairs=lines)
    assert found == [("A", "front"), ("A", "rear"), ("B", "front")]


def test_rule_15_the_range_of_serials_decides_and_numbers_are_compared_as_numbers():
    components = [
        *places(positions=("one",), serial_to="B999"),
        *places(positions=("front", "rear"), serial_from="B1000"),
    ]
    vehicles = [car("early", serial="B250"), car("late", serial="B1000"), car("unknown")]
    lines = [job("2001-01-01", "belt", vehicle_id=v["vehicle_id"]) for v in vehicles]
    connection = history(vehicles=vehicles, components=components, repairs=lines)
    assert rows(connection, SLOTS) == [
        ("early", "one"),
        ("late", "front"),
        ("late", "rear"),
        ("unknown", "front"),
        ("unknown", "one"),
        ("unknown", "rear"),
    ]
    assert rows(connection, "select count, out_of from left_out where kind like '%known serial'") == [(1, 3)]


def test_rule_15_without_that_table_the_positions_ever_recorded_in_the_series():
    vehicles = [car("A"), car("B"), car("C", "S2"), car("D", "S3")]
    lines = [job("2001-01-01", position=p) for p in ("rear", "front", None)]
    lines += [job("2001-01-01", vehicle_id="B", component="belt"), job("2001-01-01", vehicle_id="C")]
    lines += [job("2001-01-01", vehicle_id="D", component="belt"), job("2021-01-01", position="roof")]
    found = slots(vehicles=vehicles, repairs=lines, parameters=NEVER_WHOLE)
    assert found == [("A", "front"), ("A", "rear"), ("B", "front"), ("B", "rear"), ("C", "only")]


def test_rule_15_a_component_that_the_table_does_not_name_is_counted():
    connection = history(repairs=[job("2001-01-01", position="left")], components=places("belt", ("one",)))
    assert rows(connection, SLOTS) == [("A", "left")]
    assert rows(connection, "select count from left_out where kind like '%does not name'") == [1]


def test_rule_15_a_component_without_named_position_has_one():
    assert slots(repairs=[job("2001-01-01", position="left")], components=places(positions=(None,))) == [("A", "only")]
    assert repairs([job("2001-01-01", position="left")], components=places(positions=(None,))) == ["only"]


def test_rule_15_a_component_not_on_a_series_gives_it_no_exposure_and_its_line_stays_a_repair():
    connection = history(repairs=[job("2001-01-01")], components=places(positions=("one",), series="S2"))
    assert rows(connection, SLOTS) == []
    assert rows(connection, "select vehicle_id from watch_window") == []
    assert rows(connection, "select position, has_slot from repair") == [("only", False)]
    assert rows(connection, "select count from left_out where kind = 'component not on the car'") == [1]


def test_rule_15_parts_never_widen_the_list():
    parts = [{"part_no": "H1", "component": "hose", "position": p} for p in ("roof", "left")]
    lines = [job("2001-01-01", part_no="H1", position="left")]
    assert slots(repairs=lines, parts=parts) == [("A", "left")]
    assert slots(repairs=lines, parts=parts, components=places(positions=("right",))) == [("A", "right")]


def test_rule_16_a_blank_position_goes_to_the_unit_of_longest_time_since_renewal():
    named = [job(f"200{n}-01-01", position=p) for n, p in enumerate(("rear left", "front left", "rear right"))]
    blank = [job(f"20{n}-01-01") for n in range(10, 15)]
    look = job("2015-01-01", reason="planned", action="inspected")
    connection = history(repairs=[*named, *blank, look], parameters=NEVER_WHOLE, components=places())
    assert rows(connection, "select count from left_out where kind = 'position filled in'") == [5]
    found = rows(
        connection, "select position, position_inferred from repair where closed_on < '2015-01-01' order by closed_on"
    )
    assert found[3:] == [(p, True) for p in ("front right", "rear left", "front left", "rear right", "front right")]


def test_rule_16_a_blank_position_is_filled_in_also_where_nothing_was_renewed():
    lines = [job("2001-01-01", position="front left"), job("2002-01-01", action="repaired"), job("2003-01-01")]
    first = own_order(FOUR[1:])[0]
    assert repairs(lines) == ["front left", first, first]


def test_rule_16_where_nothing_tells_them_apart_no_side_is_always_the_first():
    cars = [car(f"V{n}") for n in range(200)]
    lines = [job("2001-01-01", vehicle_id=c["vehicle_id"]) for c in cars]
    filled = repairs(lines, vehicles=cars)
    assert all(30 <= filled.count(position) <= 70 for position in FOUR)


def test_rule_16_a_fitting_told_by_papers_makes_its_unit_younger():
    fitted = [{"vehicle_id": "A", "component": "hose", "position": p, "fitted_from": "1999-01-01"} for p in FOUR[:2]]
    fitted += [{"vehicle_id": "A", "component": "hose", "position": "rear left", "fitted_from": "2021-01-01"}]
    assert repairs([job("2001-01-01")], fitted=fitted) == ["rear left"]


def test_rule_16_a_quantity_renews_the_next_oldest_in_passing():
    lines = [job("2001-01-01", position="front left"), job("2002-01-01", part_no="H1", quantity=2.0)]
    columns = "position, reads_as, position_inferred, renews, quantity, part_used, part_no, lines"
    first, second = own_order(FOUR[1:])[:2]
    assert sorted(repairs(lines, columns)[1:]) == sorted(
        [
            (first, "failure", True, True, 2.0, True, "H1", 1),
            (second, "changed in passing", True, True, 0.0, False, "H1", 0),
        ]
    )


def test_rule_16_a_quantity_renews_no_more_than_the_car_has_and_nothing_without_a_renewing_action():
    assert repairs([job("2001-01-01", part_no="H1", quantity=9.0)]) == list(FOUR)
    assert repairs([job("2001-01-01", part_no="H1", quantity=9.0, action="repaired")]) == own_order()[:1]


@pytest.mark.parametrize(
    ("part", "positions"),
    [
        ({"component": "hose", "unit": "metre"}, 1),
        ({"component": "hose", "unit": "pair", "covers_positions": 2}, 4),
        ({"component": "clip"}, 1),
    ],
)
def test_rule_16_what_is_sold_by_measure_or_belongs_to_another_component_counts_no_units(part, positions):
    lines = [job("2001-01-01", part_no="H1", quantity=2.0)]
    assert len(repairs(lines, parts=[{"part_no": "H1", **part}])) == positions


def test_rule_16_a_blank_position_is_one_that_the_part_fits():
    parts = [{"part_no": "H1", "component": "hose", "position": p} for p in FOUR[2:]]
    lines = [job("2001-01-01", part_no="H1", quantity=1.0), job("2002-01-01", part_no="H1", quantity=3.0)]
    assert repairs(lines, parts=parts) == ["rear left", "rear left", "rear right"]


def test_rule_16_a_position_the_car_does_not_have_is_read_as_blank():
    connection = history(repairs=[job("2001-01-01", position="roof")], components=places(), parameters=NEVER_WHOLE)
    assert rows(connection, "select position, position_inferred from repair") == [(own_order()[0], True)]
    assert rows(connection, "select count from left_out where kind = 'position that the car does not have'") == [1]


def test_rule_16_above_the_share_of_blanks_the_component_is_shown_for_the_whole_car():
    named = [job(f"20{n:02}-01-01", position=FOUR[n % 4]) for n in range(7)]
    blank = [job(f"20{n:02}-01-01") for n in range(7, 10)]
    at_share = history(repairs=[*named, *blank], components=places())
    assert rows(at_share, "select blank_share, whole_car from component_fact") == [(0.3, False)]
    assert len(rows(at_share, SLOTS)) == 4
    above = history(repairs=[*named[1:], *blank], components=places())
    assert rows(above, "select blank_lines, lines_of_positions, whole_car from component_fact") == [(3, 9, True)]
    assert rows(above, "select position, whole_car, positions from slot") == [("all", True, 1)]
    assert set(rows(above, "select position from repair")) == {"all"}
    assert rows(above, "select count from left_out where kind = 'component shown for the whole car'") == [9]


def test_rule_16_the_share_counts_neither_cars_with_one_position_nor_looks_at_all_of_them():
    components = [*places(series="S1"), *places(positions=("one",), series="S2")]
    lines = [job("2001-01-01", position="front left"), job("2001-01-01", vehicle_id="B")]
    lines += [job("2002-01-01", reason="planned", action="inspected")] * 3
    connection = history(vehicles=[car("A"), car("B", "S2")], repairs=lines, components=components)
    assert rows(connection, "select blank_lines, lines_of_positions from component_fact") == [(0, 1)]


def test_rule_16_nothing_after_the_as_of_day_fills_in_a_position():
    lines = [job("2001-01-01"), job("2021-01-01", position=own_order()[0])]
    early = history(repairs=lines, components=places(), as_of=date(2001, 1, 1), parameters=NEVER_WHOLE)
    assert rows(early, "select position from repair") == own_order()[:1]


def test_rule_17_the_other_position_of_a_pair_is_renewed_in_passing():
    parts = [{"part_no": "H1", "component": "hose", "position": p, "covers_positions": 2} for p in FOUR[2:]]
    lines = [job("2001-01-01", position="rear right", part_no="H1", quantity=1.0)]
    found = repairs(lines, "position, reads_as, position_inferred", parts=parts)
    assert found == [("rear left", "changed in passing", True), ("rear right", "failure", False)]


def test_rule_17_a_quantity_of_two_at_a_named_position_renews_the_oldest_other_in_passing():
    lines = [job("2001-01-01", position="front left"), job("2002-01-01", position="rear left", quantity=2.0)]
    assert repairs(lines, "position, reads_as")[1:] == [
        ("front right", "changed in passing"),
        ("rear left", "failure"),
    ]


@pytest.mark.parametrize(
    ("reason", "reads_as"),
    [
        ("failure", "failure"),
        ("found at inspection", "found at inspection"),
        ("planned", "planned"),
        (None, "changed in passing"),
    ],
)
def test_rule_17_a_line_of_its_own_keeps_its_reason_and_one_without_is_in_passing(reason, reads_as):
    line = {"record_id": "R", "quantity": 1.0}
    lines = [
        job("2001-01-01", position="front left", line_no=1, **line),
        job("2001-01-01", position="rear left", line_no=2, **{**line, "reason": reason}),
    ]
    found = repairs(lines, "position, reads_as")
    assert found == [("front left", "failure"), ("rear left", reads_as)]


def test_rule_17_a_position_without_reason_that_was_not_renewed_is_no_change_in_passing():
    line = {"record_id": "R", "quantity": 1.0}
    lines = [
        job("2001-01-01", position="front left", line_no=1, **line),
        job("2001-01-01", position="rear left", line_no=2, **{**line, "reason": None, "action": "repaired"}),
    ]
    assert repairs(lines, "reads_as") == ["failure", "failure"]


def test_rule_17_a_pair_with_lines_for_both_positions_renews_no_third():
    parts = [{"part_no": "H1", "component": "hose", "position": p, "covers_positions": 2} for p in FOUR[:2]]
    line = {"record_id": "R", "part_no": "H1", "quantity": 1.0}
    lines = [job("2001-01-01", position=p, line_no=n, **line) for n, p in enumerate(FOUR[:2], start=1)]
    assert repairs(lines, "position, lines", parts=parts) == [("front left", 1), ("front right", 1)]


def test_rule_17_without_a_told_failure_two_lines_without_reason_both_read_as_failure():
    lines = [
        job("2001-01-01", position=p, record_id="R", line_no=n, reason=None) for n, p in enumerate(FOUR[:2], start=1)
    ]
    assert repairs(lines, "reads_as") == ["failure", "failure"]
