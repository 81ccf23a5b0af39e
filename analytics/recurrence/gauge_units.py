"""Units of readings taken at checks: which can be turned into which, and by how much."""

from __future__ import annotations

from typing import NamedTuple

import polars as pl


class GaugeUnit(NamedTuple):
    """A unit: what it measures, and how to reach that quantity's first unit: reading x times + plus."""

    quantity: str
    times: float
    plus: float = 0.0


KELVIN = 273.15
UNITS: dict[str, GaugeUnit] = {
    "Pa": GaugeUnit("pressure", 1.0),
    "hPa": GaugeUnit("pressure", 1e2),
    "mbar": GaugeUnit("pressure", 1e2),
    "kPa": GaugeUnit("pressure", 1e3),
    "bar": GaugeUnit("pressure", 1e5),
    "MPa": GaugeUnit("pressure", 1e6),
    "psi": GaugeUnit("pressure", 6894.757293168),
    "atm": GaugeUnit("pressure", 101325.0),
    "mmHg": GaugeUnit("pressure", 133.322387415),
    "inHg": GaugeUnit("pressure", 3386.388640341),
    "V": GaugeUnit("voltage", 1.0),
    "mV": GaugeUnit("voltage", 1e-3),
    "kV": GaugeUnit("voltage", 1e3),
    "A": GaugeUnit("current", 1.0),
    "mA": GaugeUnit("current", 1e-3),
    "ohm": GaugeUnit("resistance", 1.0),
    "mohm": GaugeUnit("resistance", 1e-3),
    "kohm": GaugeUnit("resistance", 1e3),
    "m": GaugeUnit("length", 1.0),
    "cm": GaugeUnit("length", 1e-2),
    "mm": GaugeUnit("length", 1e-3),
    "in": GaugeUnit("length", 0.0254),
    "C": GaugeUnit("temperature", 1.0, KELVIN),
    "K": GaugeUnit("temperature", 1.0),
    "F": GaugeUnit("temperature", 5 / 9, KELVIN - 32 * 5 / 9),
    "s": GaugeUnit("time", 1.0),
    "min": GaugeUnit("time", 60.0),
    "Nm": GaugeUnit("torque", 1.0),
    "lbf ft": GaugeUnit("torque", 1.3558179483314004),
}
"""SI prefixes and units, the international inch and pound, conventional columns of mercury. Any other unit stays."""

OTHERWISE: dict[str, str] = {
    "volt": "V",
    "volts": "V",
    "millivolt": "mV",
    "millivolts": "mV",
    "ampere": "A",
    "amperes": "A",
    "amp": "A",
    "amps": "A",
    "\u03a9": "ohm",
    "\u2126": "ohm",
    "ohms": "ohm",
    "m\u03a9": "mohm",
    "m\u2126": "mohm",
    "k\u03a9": "kohm",
    "k\u2126": "kohm",
    "mm Hg": "mmHg",
    "torr": "mmHg",
    "in Hg": "inHg",
    "lb/in2": "psi",
    "\u00b0C": "C",
    "\u00b0F": "F",
    "sec": "s",
    "seconds": "s",
    "second": "s",
    "minutes": "min",
    "minute": "min",
    "inch": "in",
    "inches": "in",
    "N m": "Nm",
    "lbf.ft": "lbf ft",
}
"""Other spellings. A prefix is told by its capital, so small letters are read only where one unit alone has them."""


def _by_small_letters() -> dict[str, str]:
    found: dict[str, list[str]] = {}
    for name in (*UNITS, *OTHERWISE):
        found.setdefault(name.lower(), []).append(OTHERWISE.get(name, name))
    return {small: units[0] for small, units in found.items() if len(set(units)) == 1}


SMALL = _by_small_letters()


def unit_meant(written: str | None) -> str | None:
    """Return the unit that a text means, itself where it is none that can be converted.

    Parameters
    ----------
    written
        As recorded; None = none was.

    Examples
    --------
    >>> unit_meant("KPA"), unit_meant("mm Hg"), unit_meant("operations"), unit_meant("mpa")
    ('kPa', 'mmHg', 'operations', 'MPa')
    """
    if written is None or written in UNITS:
        return written
    return OTHERWISE.get(written) or SMALL.get(written.lower()) or written


def with_units(readings: pl.DataFrame, column: str = "measured_unit") -> pl.DataFrame:
    """Add what is measured and how to reach its first unit.

    Parameters
    ----------
    readings
        With a column of units as written.
    column
        Its name.

    Returns
    -------
    polars.DataFrame
        The rows with meant (the unit), quantity (of a unit that cannot be converted the unit itself), times and plus.
    """
    written = readings[column].unique().drop_nulls().sort().to_list()
    meant = [unit_meant(each) for each in written]
    known = [UNITS.get(each or "", GaugeUnit(f"unit {each}", 1.0)) for each in meant]
    table = pl.DataFrame(
        {
            column: written,
            "meant": meant,
            "quantity": [each.quantity for each in known],
            "times": [each.times for each in known],
            "plus": [each.plus for each in known],
        },
        schema={column: pl.String, "meant": pl.String, "quantity": pl.String, "times": pl.Float64, "plus": pl.Float64},
    )
    return readings.join(table, on=column, how="left", maintain_order="left")
