"""Readings taken at checks: units, limits, and what is kept apart."""

from datetime import date

import polars as pl
import pytest
from scipy import constants

from analytics.parameters import Parameters
from analytics.recurrence.gauge_units import UNITS, unit_meant
from analytics.recurrence.gauges import check_readings, reading_drifts

LIMITS = {
    "component": pl.String,
    "measured_unit": pl.String,
    "lower": pl.Float64,
    "upper": pl.Float64,
    "source": pl.String,
}


def readings(*taken):
    """Rows of ``reading_taken``: component, measured, unit, and, where it matters, car and day."""
    rows = []
    for number, (component, measured, unit, *more) in enumerate(taken):
        car, on = more or (f"car {number}", date(2020, 1, 1))
        rows.append((f"R{number}/1", car, "S1", on, component, None, float(measured), unit))
    schema = {"record": pl.String, "vehicle_id": pl.String, "series": pl.String, "read_on": pl.Date}
    schema |= {"component": pl.String, "position": pl.String, "measured": pl.Float64, "measured_unit": pl.String}
    return pl.DataFrame(rows, schema=schema, orient="row")


def limits(*rows):
    return pl.DataFrame(rows, schema=LIMITS, orient="row")


def told(taken, stated):
    return {r["record"]: r for r in check_readings(taken, stated).to_dicts()}


@pytest.mark.parametrize(
    ("unit", "factor"),
    [
        ("psi", constants.psi),
        ("bar", constants.bar),
        ("atm", constants.atm),
        ("in", constants.inch),
        ("lbf ft", constants.pound_force * constants.foot),
        ("min", constants.minute),
        ("mmHg", constants.mmHg),  # the general library takes the torr, 1e-6 less than the conventional column
    ],
)
def test_units_are_those_of_the_general_library(unit, factor):
    assert UNITS[unit].times == pytest.approx(factor, rel=1e-6)


def test_degrees_are_converted_with_their_zero():
    # 212 F = 100 C = 373.15 K by definition
    taken = readings(("hose", 212, "F"), ("hose", 373.15, "K"), ("hose", 100, "\u00b0C"))
    found = told(taken, limits(("hose", "C", 0, 100, "x")))
    assert [row["value"] for row in found.values()] == pytest.approx([100.0] * 3)
    assert {row["verdict"] for row in found.values()} == {"within"}


@pytest.mark.parametrize(
    ("written", "meant"),
    [("mbar", "mbar"), ("MPA", "MPa"), ("mm Hg", "mmHg"), ("Volts", "V"), ("mV", "mV"), ("operations", "operations")],
)
def test_spellings_of_a_unit(written, meant):
    assert unit_meant(written) == meant


def test_common_practice_values_as_limits():
    # common practice, no source: an electric pump on a 12 V supply needs at least 10 V at its connector; a sound
    # vacuum circuit holds its reading for a minute on a hand pump; a sound reservoir gives about ten operations with
    # the engine off (a shared vacuum may feed a brake servo: such a leak is treated as one of the brakes)
    stated = limits(
        ("lift pump", "V", 10.0, None, "common practice, no source"),
        ("vacuum line", "mbar lost in a minute", None, 0.0, "common practice, no source"),
        ("reservoir", "operations", 10.0, None, "common practice, no source"),
    )
    found = told(
        readings(
            ("lift pump", 9700, "mV"),
            ("lift pump", 10_000, "mV"),
            ("vacuum line", 0, "mbar lost in a minute"),
            ("vacuum line", 40, "mbar lost in a minute"),
            ("reservoir", 4, "operations"),
            ("reservoir", 11, "operations"),
        ),
        stated,
    )
    verdicts = [found[f"R{k}/1"]["verdict"] for k in range(6)]
    assert verdicts == ["below", "within", "within", "above", "below", "within"]
    assert (found["R0/1"]["value"], found["R0/1"]["unit"], found["R0/1"]["converted"]) == (9.7, "V", True)


def test_a_reading_at_its_limit_stays_there_when_converted():
    stated = limits(("tank", "kPa", 80.0, 101.325, "x"))
    found = told(readings(("tank", 0.8, "bar"), ("tank", 1.0, "atm"), ("tank", 600.0, "mmHg")), stated)
    assert {name: row["verdict"] for name, row in found.items()} == {
        "R0/1": "within",
        "R1/1": "within",
        "R2/1": "below",
    }
    assert found["R2/1"]["value"] == pytest.approx(600 * constants.mmHg / 1000, rel=1e-5)


def test_what_cannot_be_converted_is_kept_apart_and_said():
    taken = readings(("tank", 24, "bar"), ("tank", 2500, "kPa"), ("tank", 9, "operations"), ("tank", 3, None))
    table = check_readings(taken, limits())
    assert {r["record"]: (r["value"], r["unit"]) for r in table.to_dicts()} == {
        "R0/1": (24.0, "bar"),
        "R1/1": (25.0, "bar"),
        "R2/1": (9.0, "operations"),
        "R3/1": (3.0, "no unit"),
    }
    assert set(table["verdict"]) == {"no limit"}
    drifts = reading_drifts(table, Parameters())
    assert drifts["unit"].to_list() == ["bar", "no unit", "operations"]
    assert set(drifts["units_apart"]) == {2}
    assert drifts.filter(pl.col("unit") == "bar").select("readings", "converted").row(0) == (2, 1)


def test_the_usual_unit_is_the_one_used_most_without_a_limit():
    taken = readings(("tank", 2500, "kPa"), ("tank", 2400, "kPa"), ("tank", 26, "bar"))
    assert set(check_readings(taken, limits())["unit"]) == {"kPa"}


def test_readings_of_no_component_and_no_readings_at_all():
    assert check_readings(readings((None, 3, "V")), limits()).is_empty()
    assert reading_drifts(check_readings(readings(), limits(("a", "V", 1, 2, "x"))), Parameters()).is_empty()


def test_the_drift_is_told_in_the_shown_unit():
    taken = []
    for year in range(6):
        unit, times = ("kPa", 100) if year % 2 else ("bar", 1)
        taken += [("tank", (30 - 0.5 * year + c) * times, unit, f"c{c}", date(2010 + year, 6, 1)) for c in range(6)]
    shown = check_readings(readings(*taken), limits(("tank", "bar", 28.0, None, "x")))
    row = reading_drifts(shown, Parameters()).row(0, named=True)
    assert row["per_year"] == pytest.approx(-0.5, rel=1e-3)
    assert row["per_year_lower"] <= row["per_year"] <= row["per_year_upper"] < 0
    assert (row["readings"], row["vehicles"], row["read_again"], row["converted"]) == (36, 6, 6, 18)
    assert row["below"] + row["within"] == 36
    assert (row["first_on"], row["last_on"]) == (date(2010, 6, 1), date(2015, 6, 1))
