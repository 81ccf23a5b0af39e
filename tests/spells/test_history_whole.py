"""What holds for any ledger: used + left out = loaded, nothing looks ahead, the order of rows does not matter."""

from datetime import date, timedelta

import duckdb
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.parameters import Parameters
from analytics.records.feed import ACTIONS, REASONS
from analytics.spells import history as stage
from analytics.spells.history import build_history
from tests.fleet import ledger_of
from tests.spells.history_of import FOUR, car, history, job, places, rows

AS_OF = date(2002, 6, 30)
TABLES = [
    name
    for name in (*stage.TABLES_BEFORE_POSITIONS, *stage.TABLES_AFTER_POSITIONS)
    # what is left out is counted from all lines of the ledger, and so they are held
    if not name.startswith("left_out") and name != "repair_line"
]


def maybe(values):
    return st.none() | st.sampled_from(list(values))


DAYS = st.integers(0, 1800).map(lambda number: date(2000, 1, 1) + timedelta(days=number))
LINES = st.builds(
    lambda closed_on, stay, **columns: job(closed_on, opened_on=stay and closed_on - timedelta(stay - 1), **columns),
    DAYS,
    stay=maybe([1, 3, 40, 120]),
    vehicle_id=st.sampled_from("ABX"),
    record_id=maybe(["R", "S"]),
    component=maybe(["hose", "belt", "pump"]),
    position=maybe([*FOUR[:3], "roof"]),
    reason=maybe(REASONS),
    action=maybe(ACTIONS),
    part_no=maybe(["H1", "B1"]),
    quantity=maybe([1.0, 2.0, -1.0]),
    came_for=maybe([True, False]),
)
READINGS = st.builds(
    lambda read_on, vehicle_id, source: {
        "vehicle_id": vehicle_id,
        "read_on": read_on,
        "odometer": 1.0,
        "source": source,
    },
    DAYS,
    st.sampled_from("ABX"),
    maybe(["visit", "annual return"]),
)
SEEN = st.builds(
    lambda day, planned: {"vehicle_id": "B", "day": day, "planned": planned, "line_id": "Q/1"}, DAYS, st.booleans()
)
LEDGERS = st.fixed_dictionaries(
    {
        "vehicles": st.builds(
            lambda a, b: [car("A", left_on=a), car("B", left_on=b)], st.none() | DAYS, st.none() | DAYS
        ),
        "repairs": st.lists(LINES, max_size=25).map(
            lambda lines: [{**line, "line_no": number} for number, line in enumerate(lines, start=1)]
        ),
        "readings": st.lists(READINGS, max_size=4, unique_by=lambda row: (row["vehicle_id"], row["read_on"])),
        "seen": st.lists(SEEN, max_size=2),
        "components": st.sampled_from([[], places(positions=FOUR[:3], seen_at_service=True, renewed_by="resealed")]),
        "parts": st.just([{"part_no": "H1", "component": "hose", "covers_positions": 2}]),
    }
)


def built(ledger, as_of=AS_OF):
    connection = ledger_of(**ledger)
    build_history(connection, as_of, Parameters(blank_position_share=0.5))
    return connection


def everything(connection):
    # most tables are in no order; where a line lies in the ledger is nothing that it tells
    told = {**dict.fromkeys(TABLES, "*"), "order_line": "* exclude (row_no)"}
    return {name: sorted(connection.sql(f"select {of} from {name}").fetchall(), key=repr) for name, of in told.items()}


def known(ledger):
    """Return the ledger as it would have stood on the as-of day."""
    return {
        **ledger,
        "vehicles": [
            {**row, "left_on": row["left_on"] if row["left_on"] and row["left_on"] <= AS_OF else None}
            for row in ledger["vehicles"]
        ],
        "repairs": [row for row in ledger["repairs"] if row["closed_on"] <= AS_OF],
        "readings": [row for row in ledger["readings"] if row["read_on"] <= AS_OF],
        "seen": [row for row in ledger["seen"] if row["day"] <= AS_OF],
    }


@settings(max_examples=15, deadline=None)
@given(LEDGERS)
def test_rule_06_nothing_after_the_as_of_day_changes_any_table(ledger):
    named = {**ledger, "repairs": [{**r, "record_id": r["record_id"] or f"N{r['line_no']}"} for r in ledger["repairs"]]}
    assert everything(built(named)) == everything(built(known(named)))


@settings(max_examples=10, deadline=None)
@given(LEDGERS, st.randoms(use_true_random=False))
def test_the_order_of_rows_in_the_ledger_changes_nothing(ledger, random):
    named = {**ledger, "repairs": [{**r, "record_id": r["record_id"] or f"N{r['line_no']}"} for r in ledger["repairs"]]}
    mixed = {name: random.sample(list(table), len(table)) for name, table in named.items()}
    one, other = built(named), built(mixed)
    assert everything(one) == everything(other)
    assert rows(one, "from left_out") == rows(other, "from left_out")


@settings(max_examples=15, deadline=None)
@given(LEDGERS)
def test_used_and_left_out_are_what_was_loaded(ledger):
    connection = built(ledger)
    used = rows(connection, "select count(*) from line")[0]
    not_used = "kind in ('line closed after the as-of day', 'line of a car that is not in vehicles')"
    left_out = rows(connection, f"select coalesce(sum(count), 0)::integer from left_out where {not_used}")[0]
    assert used + left_out == len(ledger["repairs"])
    with_component = rows(connection, "select count(*) from line where component is not null")[0]
    assert rows(connection, "select coalesce(sum(lines), 0)::integer from repair") == [with_component]
    without = rows(connection, "select coalesce(sum(count), 0)::integer from left_out where kind = 'no component'")[0]
    assert with_component + without == used
    assert rows(connection, "select coalesce(sum(lines), 0)::integer from visit") == [used]


@settings(max_examples=15, deadline=None)
@given(LEDGERS)
def test_repairs_and_visits_are_unique_and_every_repair_has_its_visit_and_position(ledger):
    connection = built(ledger)
    for table, key in (("repair", "repair_no"), ("visit", "visit_id"), ("line", "line_id"), ("left_out", "kind")):
        assert rows(connection, f"select {key} from {table} group by all having count(*) > 1") == [], table
    assert rows(connection, "select repair_no from repair anti join visit using (visit_id, vehicle_id)") == []
    assert rows(connection, "select repair_no from repair where position is null or fault_on > closed_on") == []
    assert rows(connection, "select kind from left_out where count < 1 or count > out_of or says is null") == []
    lines = {row["line_no"] for row in ledger["repairs"]}
    assert {int(row.split("/")[1]) for row in rows(connection, "select line_id from repair")} <= lines


def test_findings_without_a_line_are_not_counted():
    assert rows(history(vehicles=[], repairs=[]), "from left_out") == []


def test_a_line_of_a_car_that_is_not_in_vehicles_is_left_out_and_counted():
    connection = history(repairs=[job("2001-01-01"), job("2001-01-01", vehicle_id="X")])
    assert rows(connection, "select vehicle_id from line") == ["A"]
    found = rows(connection, "select count, out_of from left_out where kind like 'line of a car%'")
    assert found == [(1, 2)]


def test_the_stage_runs_on_a_ledger_opened_for_reading_only(tmp_path):
    with ledger_of(vehicles=[car()], repairs=[job("2001-01-01")]) as memory:
        memory.execute(f"attach '{tmp_path / 'copy.duckdb'}' as copy")
        memory.execute("copy from database memory to copy")
    with duckdb.connect(str(tmp_path / "copy.duckdb"), read_only=True) as ledger:
        build_history(ledger, AS_OF, Parameters())
        assert rows(ledger, "select component from repair") == ["hose"]
        with pytest.raises(duckdb.Error):
            ledger.execute("create table repairs_too as from repairs")


def test_the_stage_can_be_run_twice_on_one_connection():
    connection = history(repairs=[job("2001-01-01"), job("2005-01-01")])
    build_history(connection, date(2002, 1, 1), Parameters())
    assert rows(connection, "select closed_on from line") == ["2001-01-01"]
