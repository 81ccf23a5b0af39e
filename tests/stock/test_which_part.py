"""Which part for this car, and records that show another one: through closed records."""

from datetime import date

import polars as pl
import pytest

from analytics.parameters import Parameters
from analytics.snapshot.tables import TABLES
from analytics.snapshot.write import conform
from analytics.stock import STOCK_TABLES, forecast_stock
from analytics.stock.parts_list import catalogue_findings
from analytics.stock_inputs import handed_on
from tests.fleet import ledger_of

AS_OF = date(2020, 12, 31)
PARTS = [
    {"part_no": "T1", "component": "thermostat", "series": "S2", "serial_to": "B-1199", "looks_like": "T2"},
    {"part_no": "T2", "component": "thermostat", "series": "S2", "serial_from": "B-1200"},
    {"part_no": "H1", "component": "hose", "superseded_by": "H2"},
    {"part_no": "H2", "component": "hose", "series": "S2"},
]
VEHICLES = [
    {"vehicle_id": "early", "series": "S2", "serial": "B-1003", "built_on": date(1975, 2, 1)},
    {"vehicle_id": "late", "series": "S2", "serial": "B-1300", "built_on": date(1977, 2, 1)},
    {"vehicle_id": "dated", "series": "S2", "built_on": date(1978, 1, 1)},
    {"vehicle_id": "bare", "series": "S2"},
    {"vehicle_id": "other", "series": "S1", "serial": "A-1"},
    {"vehicle_id": "gone", "series": "S2", "serial": "B-1301", "left_on": date(2020, 6, 1), "left_why": "sold"},
]


def fitted(car, part_no, component, number=1, **values):
    return {
        "record_id": f"{car} {part_no}", "line_no": number, "vehicle_id": car, "closed_on": date(2019, 5, 1),
        "component": component, "action": "replaced", "reason": "failure", "part_no": part_no, **values,
    }  # fmt: skip


REPAIRS = [
    *({"record_id": f"{year} {car['vehicle_id']}", "vehicle_id": car["vehicle_id"], "closed_on": date(year, 5, 2),
       "line_no": 1, "component": "service", "action": "inspected", "reason": "planned"}
      for car in VEHICLES for year in range(2014, 2021)),
    fitted("late", "T1", "thermostat"),
    fitted("early", "T1", "thermostat"),
    fitted("dated", "T1", "thermostat"),
    fitted("bare", "T1", "thermostat"),
    fitted("other", "T2", "thermostat"),
    fitted("other", "X9", "thermostat"),
]  # fmt: skip


@pytest.fixture(scope="module")
def told():
    parameters = Parameters()
    ledger = ledger_of(vehicles=VEHICLES, repairs=REPAIRS, parts=PARTS)
    records, care, stock = handed_on(ledger, AS_OF, parameters)
    return forecast_stock(records, stock, parameters, AS_OF, care)


def answer(told, car, component="thermostat"):
    here = (pl.col("vehicle_id") == car) & (pl.col("component") == component)
    return {row["part_no"]: row for row in told.part_for_car.filter(here).iter_rows(named=True)}


def test_every_table_of_stock_is_as_declared(told):
    for name in STOCK_TABLES:
        frame = getattr(told, name)
        assert conform(frame if frame.width else None, TABLES[name]).height == frame.height


def test_a_serial_answers_and_the_look_alike_is_named(told):
    rows = answer(told, "late")
    assert set(rows) == {"T2"}
    assert (rows["T2"]["fits"], rows["T2"]["told_by"], rows["T2"]["looks_like"]) == ("yes", "serial", "T1")
    assert rows["T2"]["says"] == "T2 fits, by its serial; T1 looks the same and does not fit."


def test_a_build_date_answers_where_the_serial_is_missing(told):
    assert answer(told, "dated")["T2"]["says"].startswith("T2 fits, by the day it was built;")


def test_what_cannot_be_told_is_said_and_never_guessed(told):
    rows = answer(told, "bare")
    assert {row["fits"] for row in rows.values()} == {"cannot be told"}
    unknown = "it cannot be told from what is known of this car whether T1 fits, which takes its serial: it fits S2"
    assert rows["T1"]["says"] == f"{unknown} to B-1199."
    assert rows["T1"]["looks_like"] is None


def test_the_number_to_order_is_named_where_one_supersedes_another(told):
    assert answer(told, "early", "hose")["H1"]["says"] == (
        "H1 fits, as the parts list names no series; order H2, which supersedes it and fits as well."
    )
    assert (
        "H2 supersedes it, but the parts list does not say that it fits" in answer(told, "other", "hose")["H1"]["says"]
    )


def test_no_part_is_looked_up_for_a_car_that_left_and_none_of_another_series_is_given(told):
    assert answer(told, "gone") == {}
    assert answer(told, "other") == {}


def test_a_record_of_a_part_outside_its_range_is_named_with_the_look_alike_that_fits(told):
    rows = {row["vehicle_id"]: row for row in told.part_misfit.iter_rows(named=True)}
    assert set(rows) == {"late", "dated", "other"}  # nothing is held against a car of which nothing is known
    late = rows["late"]
    assert (late["part_no"], late["told_by"], late["fits_range"]) == ("T1", "serial", "S2 to B-1199")
    assert (late["fits_instead"], late["looks_alike"]) == ("T2", True)
    assert late["says"] == (
        "T1 fits S2 to B-1199, and this car is outside of it by its serial; T2 fits and looks the same: "
        "a wrong number, a wrong part, or one that was made to fit."
    )
    assert rows["dated"]["told_by"] == "build date"
    assert (rows["other"]["told_by"], rows["other"]["fits_instead"]) == ("series", None)


def test_the_ranges_themselves_are_published(told):
    rows = {row["part_no"]: row for row in told.part_fit.iter_rows(named=True)}
    assert set(rows) == {"T1", "T2", "H1", "H2"}
    assert rows["H1"]["live_no"] == "H2"
    assert (rows["T2"]["before_from"], rows["T2"]["since_from"]) == (date(1975, 2, 1), date(1977, 2, 1))


def test_only_cars_that_a_part_fits_or_may_fit_stand_behind_it(told):
    """`early` and `late` carry the same component; the serial says which of the two numbers each takes."""
    behind = {part: set(rows["vehicle_id"]) for (part,), rows in told.demand_car.group_by("part_no")}
    assert {"early", "bare"} <= behind["T1"]
    assert {"late", "dated", "bare"} <= behind["T2"]
    assert not behind["T1"] & {"late", "other"}
    assert not behind["T2"] & {"early", "other"}


def findings(*rows):
    listed = pl.DataFrame(rows, schema=dict.fromkeys(COLUMNS, pl.String), orient="row").with_columns(
        listed=pl.lit(value=True), in_circle=pl.lit(value=False)
    )
    return catalogue_findings(listed)


COLUMNS = (
    *("part_no", "live_no", "component", "position", "series", "serial_from", "serial_to", "superseded_by"),
    "looks_like",
)


def ranged(part_no, first, last, live_no=None, position=None, series="S2", **more):
    at = (part_no, live_no or part_no, "pump", position, series, first, last)
    return (*at, more.get("after"), more.get("looks"))


def test_serials_given_for_two_parts_and_for_none_are_reported():
    overlap = findings(ranged("A", None, "B-20"), ranged("B", "B-15", None)).row(0, named=True)
    assert (overlap["kind"], overlap["serial_from"], overlap["serial_to"]) == ("overlap", "B-15", "B-20")
    gap = findings(ranged("A", None, "B-0009"), ranged("B", "B-0015", None)).row(0, named=True)
    assert (gap["kind"], gap["part_no"], gap["other_part_no"]) == ("gap", "A", "B")
    assert gap["says"] == "no part is given for serials of S2 between B-0009 (A) and B-0015 (B)"


@pytest.mark.parametrize(
    "rows",
    [
        (ranged("A", None, "B-14"), ranged("B", "B-15", None)),
        (ranged("A", None, "B-20", live_no="B"), ranged("B", "B-15", None)),
        (ranged("A", None, "B-20", position="left"), ranged("B", "B-15", None, position="right")),
        (ranged("A", None, "B-20"), ranged("B", "B-15", None, series="S3")),
        (ranged("A", None, "B-9"), ranged("B", "B-10", "B-19"), ranged("C", "B-20", None)),
    ],
)
def test_ranges_that_meet_or_serve_other_places_are_no_finding(rows):
    assert findings(*rows).is_empty()


def test_a_range_upside_down_two_successors_and_looks_within_a_group_are_reported():
    assert findings(ranged("A", "B-20", "B-10"))["kind"].to_list() == ["range upside down"]
    two = findings(ranged("A", None, None, live_no="C", after="B"), ranged("A", None, None, live_no="C", after="C"))
    assert two["kind"].to_list() == ["two successors"]
    alike = findings(ranged("A", None, None, live_no="B", after="B", looks="B; C"), ranged("B", None, None))
    assert alike.select("kind", "other_part_no").rows() == [("look-alike in one group", "B")]
