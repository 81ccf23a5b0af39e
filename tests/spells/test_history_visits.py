"""Days, orders, visits, and what exists on the as-of day (rules 1, 2, 3, 5, 6)."""

from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.spells.history_of import car, history, job, rows

VISITS = "select day, closed_on from visit order by vehicle_id, day"


def visits(**tables):
    return rows(history(**tables), VISITS)


def test_rule_01_a_fault_happened_when_the_car_came_in_else_when_the_job_was_closed():
    told = job("2001-03-09", opened_on="2001-03-02", record_id="told")
    silent = job("2002-03-09", opened_on=None, record_id="silent")
    found = rows(history(repairs=[told, silent]), "select record_id, fault_on, closed_on from line order by closed_on")
    assert found == [("told", "2001-03-02", "2001-03-09"), ("silent", "2002-03-09", "2002-03-09")]


def test_rule_01_an_opening_after_the_closing_is_set_aside_and_the_line_stays():
    connection = history(repairs=[job("2001-03-09", opened_on="2001-04-09")])
    assert rows(connection, "select opened_on, fault_on from line") == [(None, "2001-03-09")]
    assert rows(connection, "select count from left_out where kind = 'opened after it was closed'") == [1]


def test_rule_01_a_line_without_opening_takes_that_of_its_order_and_is_marked():
    lines = [
        job("2001-03-09", opened_on="2001-03-02", record_id="R", line_no=1, quantity=1.0),
        job("2001-03-09", opened_on=None, record_id="R", line_no=2, quantity=1.0),
    ]
    found = rows(history(repairs=lines), "select fault_on, inferred from line order by line_no")
    assert found == [("2001-03-02", None), ("2001-03-02", "opened_on")]


def test_rule_02_an_order_is_all_lines_of_one_number_of_one_car():
    lines = [
        job("2001-03-09", record_id="R", line_no=1),
        job("2001-03-09", record_id="R", line_no=2),
        job("2001-03-09", record_id="R", line_no=3, vehicle_id="B"),
        job("2001-03-09", record_id="R", line_no=4, source="other"),
    ]
    connection = history(vehicles=[car("A"), car("B")], repairs=lines)
    counts = rows(connection, "select count(*) from line group by order_id order by count(*)")
    assert counts == [1, 1, 2]


def test_rule_02_orders_that_share_a_day_are_one_visit_and_the_next_day_is_another():
    first, second = job("2001-03-05", opened_on="2001-03-01"), job("2001-03-09", opened_on="2001-03-05")
    assert visits(repairs=[first, second]) == [("2001-03-01", "2001-03-09")]
    second = job("2001-03-09", opened_on="2001-03-06")
    assert visits(repairs=[first, second]) == [("2001-03-01", "2001-03-05"), ("2001-03-06", "2001-03-09")]


def test_rule_02_visits_chain_through_a_long_stay():
    long_stay = job("2001-06-01", opened_on="2001-03-01")
    inside = [job("2001-03-03"), job("2001-04-03"), job("2001-06-05", opened_on="2001-06-01")]
    assert visits(repairs=[long_stay, *inside]) == [("2001-03-01", "2001-06-05")]


def test_rule_02_orders_without_opening_are_one_visit_where_they_share_the_closing():
    silent = [job("2001-03-05", opened_on=None), job("2001-03-05", opened_on=None), job("2001-03-06", opened_on=None)]
    assert visits(repairs=silent) == [("2001-03-05", "2001-03-05"), ("2001-03-06", "2001-03-06")]


def test_rule_02_cars_do_not_share_visits():
    both = [job("2001-03-05"), job("2001-03-05", vehicle_id="B")]
    assert len(visits(vehicles=[car("A"), car("B")], repairs=both)) == 2


def test_rule_02_a_reading_at_a_visit_or_inspection_is_a_visit_and_an_annual_return_is_not():
    readings = [
        {"vehicle_id": "A", "read_on": day, "odometer": 1.0, "source": source}
        for day, source in (
            ("2001-01-01", "visit"),
            ("2002-01-01", "inspection"),
            ("2003-01-01", None),
            ("2004-01-01", "annual return"),
        )
    ]
    connection = history(readings=readings)
    assert [day for day, _ in rows(connection, VISITS)] == ["2001-01-01", "2002-01-01", "2003-01-01"]
    assert rows(connection, "select from_order, from_reading, lines from visit limit 1") == [(False, True, 0)]
    assert rows(connection, "select count from left_out where kind = 'reading without source'") == [1]


def test_rule_02_a_reading_during_an_order_belongs_to_its_visit():
    readings = [{"vehicle_id": "A", "read_on": "2001-03-05", "odometer": 1.0, "source": "visit"}]
    connection = history(repairs=[job("2001-03-05", opened_on="2001-03-01")], readings=readings)
    assert rows(connection, "select day, from_order, from_reading from visit") == [("2001-03-01", True, True)]


def test_rule_03_a_quarantined_line_is_a_visit():
    seen = [{"vehicle_id": "A", "day": date(2001, 3, 5), "planned": True, "line_id": "Q/1"}]
    connection = history(seen=seen)
    assert rows(connection, "select day, has_planned, from_quarantine from visit") == [("2001-03-05", True, True)]
    assert rows(connection, "select count from left_out where kind like 'visit known from%'") == [1]


def test_rule_03_a_line_without_component_is_a_visit():
    assert visits(repairs=[job("2001-03-05", component=None)]) == [("2001-03-05", "2001-03-05")]


def test_rule_05_lines_of_one_number_years_apart_are_two_orders():
    lines = [job("2001-03-05", record_id="17", line_no=1), job("2010-03-05", record_id="17", line_no=2)]
    connection = history(repairs=lines)
    assert len(rows(connection, "select distinct order_id from line")) == 2
    assert len(rows(connection, VISITS)) == 2
    assert rows(connection, "select count from left_out where kind = 'number used again'") == [1]
    near = [job("2001-03-05", record_id="17", line_no=1), job("2001-05-04", record_id="17", line_no=2)]
    assert len(rows(history(repairs=near), "select distinct order_id from line")) == 1  # 60 days


def test_rule_06_an_order_counts_when_closed_by_the_as_of_day():
    late = [job("2020-12-31", record_id="in"), job("2021-01-01", opened_on="2020-12-01", record_id="out")]
    connection = history(repairs=late)
    assert rows(connection, "select record_id from line") == ["in"]
    assert rows(connection, VISITS) == [("2020-12-31", "2020-12-31")]
    assert rows(connection, "select count, out_of from left_out where kind like '%after the as-of day'") == [(1, 2)]


def test_rule_06_a_planned_line_closed_later_does_not_yet_tell_the_reason_of_an_earlier_one():
    lines = [
        job("2020-12-01", record_id="R", line_no=1, reason=None),
        job("2021-01-05", record_id="R", line_no=2, reason="planned"),
    ]
    assert rows(history(repairs=lines), "select reads_as from line") == ["failure"]
    assert rows(history(repairs=lines, as_of=date(2021, 2, 1)), "select reads_as from line where line_no = 1") == [
        "changed in passing"
    ]


def test_rule_06_a_car_exists_from_its_first_order_or_reading():
    vehicles = [car("order"), car("reading"), car("return"), car("later"), car("stock")]
    readings = [
        {"vehicle_id": "reading", "read_on": "2001-01-01", "odometer": 1.0, "source": "visit"},
        {"vehicle_id": "return", "read_on": "2001-01-01", "odometer": 1.0, "source": "annual return"},
        {"vehicle_id": "later", "read_on": "2021-01-01", "odometer": 1.0, "source": "visit"},
    ]
    connection = history(vehicles=vehicles, repairs=[job("2001-01-01", vehicle_id="order")], readings=readings)
    found = rows(connection, "select vehicle_id, joined_on, first_seen, visits from car")
    assert found == [
        ("order", "2001-01-01", "2001-01-01", 1),
        ("reading", "2001-01-01", "2001-01-01", 1),
        ("return", None, "2001-01-01", 0),
    ]
    assert rows(connection, "select count, out_of from left_out where kind = 'car that was never seen'") == [(2, 5)]


def test_rule_06_a_car_has_left_only_when_it_left_by_the_as_of_day():
    repairs = [job("2001-01-01")]
    left = {"left_on": "2020-12-31", "left_why": "sold"}
    query = "select left_on, left_why from car"
    assert rows(history(vehicles=[car(**left)], repairs=repairs), query) == [("2020-12-31", "sold")]
    left["left_on"] = "2021-01-01"
    assert rows(history(vehicles=[car(**left)], repairs=repairs), query) == [(None, None)]


def on(number):
    return date(2001, 1, 1) + timedelta(days=number)


def by_days(stays):
    """Return visits as connected sets of stays, joined as long as two share a day: no sorting, no running end."""
    groups = [set(range(start, end + 1)) for start, end in stays]
    merged = True
    while merged:
        merged = False
        for one in groups:
            for other in groups:
                if one is not other and one & other:
                    one |= other
                    groups.remove(other)
                    merged = True
                    break
            if merged:
                break
    return sorted((min(days), max(days)) for days in groups)


STAYS = st.lists(st.tuples(st.integers(0, 60), st.integers(0, 9)), max_size=10)
FLEETS = st.lists(st.tuples(STAYS, st.sets(st.integers(0, 70), max_size=4)), min_size=1, max_size=8)


@settings(max_examples=15, deadline=None)
@given(FLEETS)
def test_rule_02_visits_equal_those_of_a_slow_twin(fleet):
    vehicles = [car(f"car {number}") for number in range(len(fleet))]
    repairs = [
        job(on(start + length), opened_on=on(start), vehicle_id=vehicle["vehicle_id"])
        for vehicle, (stays, _) in zip(vehicles, fleet, strict=True)
        for start, length in stays
    ]
    readings = [
        {"vehicle_id": vehicle["vehicle_id"], "read_on": on(day), "odometer": 1.0}
        for vehicle, (_, days) in zip(vehicles, fleet, strict=True)
        for day in days
    ]
    connection = history(vehicles=vehicles, repairs=repairs, readings=readings)
    by_hand = [
        (vehicle["vehicle_id"], on(start).isoformat(), on(end).isoformat())
        for vehicle, (stays, days) in zip(vehicles, fleet, strict=True)
        for start, end in by_days([(a, a + length) for a, length in stays] + [(day, day) for day in days])
    ]
    assert rows(connection, "select vehicle_id, day, closed_on from visit order by vehicle_id, day") == by_hand
    inside = "select 1 from line as l join visit as v using (visit_id, vehicle_id) where l.fault_on >= v.day"
    assert len(rows(connection, f"{inside} and l.closed_on <= v.closed_on")) == len(repairs)
