"""Spellings that are read as one; what the ledger keeps stays as written."""

from datetime import date

import polars as pl
from hypothesis import given
from hypothesis import strategies as st

from analytics.ledger.names import NAME_READ, name_read, unite_names
from tests.fleet import ledger_of
from tests.ledger.feeds import CAR

EVER = date(2026, 1, 1)


def line(component=None, position=None, location=None, day="2020-01-01", **columns):
    line = {"vehicle_id": "A", "closed_on": day, "component": component, "position": position, "location": location}
    return line | columns


def read(columns="component, position, location", as_of=EVER, **tables):
    """Return what a small ledger's lines are read as."""
    connection = ledger_of(**{"vehicles": [CAR], **tables})
    unite_names(connection, as_of)
    return connection.sql(f"select {columns} from repairs order by record_id").fetchall()


def test_the_spelling_with_most_lines_is_shown():
    lines = [line("Fuel Hose"), line("fuel-hose"), line("FUEL  HOSE."), line("fuel-hose")]
    assert read("component", repairs=lines) == [("fuel-hose",)] * 4


def test_a_declared_spelling_is_shown_however_rare():
    found = read(
        repairs=[line("caliper", "left front", "SILL LH")] * 3,
        components=[{"component": "Caliper", "position": "Front left", "system": "Brakes"}],
        locations=[{"location": "sill left"}],
    )
    assert found == [("Caliper", "Front left", "sill left")] * 3


def test_of_equally_frequent_spellings_the_first_written_is_shown_whatever_came_first():
    lines = [line("Fuel-Hose", day="2020-02-01"), line("FUEL HOSE", day="2020-01-01")]
    assert read("component", repairs=lines) == [("FUEL HOSE",)] * 2
    assert read("component", repairs=lines[::-1]) == [("FUEL HOSE",)] * 2


def test_lines_after_the_day_do_not_choose_the_spelling():
    lines = [line("Fuel-Hose"), *[line("fuel hose", day="2021-01-01")] * 2]
    assert read("component", as_of=date(2020, 6, 1), repairs=lines)[0] == ("Fuel-Hose",)
    assert read("component", as_of=date(2021, 6, 1), repairs=lines)[0] == ("fuel hose",)


def test_letters_are_read_within_their_component_only():
    lines = [
        line("window", "L"),
        line("window", "left"),
        line("window", "right"),
        line("arm", "L"),
        line("arm", "left"),
    ]
    assert [position for _, position, _ in read(repairs=[*lines, line("arm", "lower"), line(None, "L")])] == [
        *("left", "left", "right"),
        *("L", "left", "lower"),
        "L",
    ]


def test_declared_positions_decide_what_letters_mean():
    declared = [{"component": "arm", "position": p, "system": "x"} for p in ("front left", "front lower")]
    assert read("position", repairs=[line("arm", "FL"), line("arm", "front left")], components=declared)[0] == ("FL",)
    assert read("position", repairs=[line("arm", "FL")], components=declared[:1]) == [("front left",)]


def test_every_table_reads_the_same_name():
    connection = ledger_of(
        vehicles=[CAR],
        repairs=[line("Fuel-Hose", "LH", "tank-bay")],
        components=[{"component": "fuel hose", "position": "left", "system": "Fuel", "location": "Tank Bay"}],
        locations=[{"location": "tank bay", "parent": "REAR"}, {"location": "Tank  bay"}, {"location": "rear"}],
        parts=[{"part_no": "P1", "component": "FUEL HOSE", "position": "Left"}],
        fitted=[
            {"vehicle_id": "A", "component": name, "position": "left", "fitted_from": "2019-01-01"}
            for name in ("fuel_hose", "fuel hose")
        ],
        limits=[{"component": "Fuel hose", "measured_unit": "bar"}],
    )
    unite_names(connection, EVER)
    for table in ("repairs", "components", "parts", "fitted", "limits"):
        assert connection.sql(f"select distinct component from {table}").fetchall() == [("fuel hose",)], table
    for table in ("repairs", "components", "parts", "fitted"):
        assert connection.sql(f"select distinct position from {table}").fetchall() == [("left",)], table
    assert connection.sql("select location, parent from locations order by all").fetchall() == [
        ("rear", None),
        ("tank bay", "rear"),
    ]
    assert connection.sql("select count(*) from fitted").fetchall() == [(1,)]
    assert connection.table("repairs").fetchall() == connection.sql("from repairs").fetchall()


def test_components_that_one_may_harm_are_read_one_by_one():
    harms = [("pump", "VALVE;fuel hose"), ("hose clip", "fuel-hose"), ("fuel hose", None), ("cap", "no such; part")]
    connection = ledger_of(
        vehicles=[CAR],
        repairs=[line("valve")],
        components=[{"component": name, "system": "x", "may_harm": harmed} for name, harmed in harms],
    )
    unite_names(connection, EVER)
    assert connection.sql("select component, may_harm from components order by all").fetchall() == [
        *(("cap", "no such; part"), ("fuel hose", None), ("hose clip", "fuel hose"), ("pump", "fuel hose; valve"))
    ]


def test_where_nothing_is_written_otherwise_nothing_is_laid_over_the_ledger():
    connection = ledger_of(vehicles=[CAR], repairs=[line("hose")])
    unite_names(connection, EVER)
    assert connection.sql("select count(*) from duckdb_views() where temporary and not internal").fetchall() == [(0,)]
    assert connection.table("name_read").columns == [*NAME_READ]


def test_reading_again_as_of_another_day_starts_from_what_is_written():
    connection = ledger_of(vehicles=[CAR], repairs=[line("Fuel-Hose"), *[line("fuel hose", day="2021-01-01")] * 2])
    shown = []
    for day in (date(2022, 1, 1), date(2020, 6, 1), date(2022, 1, 1)):
        unite_names(connection, day)
        shown.append(connection.sql("select distinct component from repairs order by all").fetchall())
    assert shown == [[("fuel hose",)], [("Fuel-Hose",), ("fuel hose",)], [("fuel hose",)]]


NAMES = st.sampled_from(
    ["hose", "Hose.", "HOSE", "pump", "Pump", "left pump", "right pump", "hose 1", "hose-1", "hose 2"]
)


@given(st.lists(st.tuples(NAMES, st.integers(1, 5)), min_size=1, max_size=8))
def test_what_is_read_is_read_no_further(written):
    frame = pl.DataFrame(
        {
            "kind": "component",
            "within": "",
            "written": [name for name, _ in written],
            "lines": [n for _, n in written],
            "first_on": date(2020, 1, 1),
            "example": "1/1",
            "declared": 0,
        }
    ).unique("written", maintain_order=True)
    stated = pl.DataFrame(schema={"kind": pl.String, "old_name": pl.String, "new_name": pl.String})
    shown = dict(name_read(frame, stated).select("written", "shown").rows())
    assert not {*shown} & {*shown.values()}
    for name, other in shown.items():
        assert {c for c in name if c.isdigit()} == {c for c in other if c.isdigit()}
        assert ("left" in name.lower()) == ("left" in other.lower())
