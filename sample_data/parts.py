"""Which part number fits a car at a position, and which one the shop fitted in which year of the archive."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from sample_data.catalogue import components, scenario_rows
from sample_data.lives import Law

OVERLAP_SHARE = 0.25
"""Share of fittings that already take the newer number while the older one is still sold."""


@dataclass(frozen=True, slots=True)
class Part:
    """One part number.

    Attributes
    ----------
    part_no, description, code
        Number, words, component code.
    unit, covers_positions
        Unit of sale and positions one part serves.
    superseded_by, last_year
        Number that replaces it, empty if live; year of the archive (from 0) in which it stops being fitted.
    looks_like
        Number that looks the same and does not interchange, may be empty.
    median_years
        Median life of this design where it differs from the component's; 0 = the component's.
    unit_cost
        Cost of one.
    """

    part_no: str
    description: str
    code: str
    unit: str
    covers_positions: int
    superseded_by: str
    last_year: int
    looks_like: str
    median_years: float
    unit_cost: int


@dataclass(frozen=True, slots=True)
class Fit:
    """One place a part fits; empty position = all, empty serial ends = open."""

    part_no: str
    position: str
    series: str
    serial_from: str
    serial_to: str

    def takes(self, position: str, series: str, serial: str) -> bool:
        """Return whether the part fits a position of a car."""
        return (
            self.series == series
            and self.position in {"", position}
            and (not self.serial_from or serial >= self.serial_from)
            and (not self.serial_to or serial <= self.serial_to)
        )


@cache
def parts() -> dict[str, Part]:
    """Return the parts by number."""
    return {
        row["part_no"]: Part(
            part_no=row["part_no"],
            description=row["description"],
            code=row["code"],
            unit=row["unit"],
            covers_positions=int(row["covers_positions"]),
            superseded_by=row["superseded_by"],
            last_year=int(row["last_year"] or 99),
            looks_like=row["looks_like"],
            median_years=float(row["median_years"] or 0.0),
            unit_cost=int(row["unit_cost"]),
        )
        for row in scenario_rows("parts")
    }


@cache
def fits() -> tuple[Fit, ...]:
    """Return where the parts fit, in the order of the catalogue."""
    return tuple(Fit(**row) for row in scenario_rows("fits"))


@cache
def fitting(code: str, position: str, series: str, serial: str) -> tuple[Part, ...]:
    """Return the part numbers that fit a position of a car, the oldest first."""
    found = [parts()[fit.part_no] for fit in fits() if fit.takes(position, series, serial)]
    return tuple(sorted((part for part in found if part.code == code), key=lambda part: part.last_year))


def factory_part(code: str, position: str, series: str, serial: str) -> str:
    """Return the part number a car left the factory with, empty where the catalogue has none."""
    found = fitting(code, position, series, serial)
    return found[0].part_no if found else ""


def part_of_year(found: tuple[Part, ...], year: float, early: float) -> str:
    """Return the number fitted in a year of the archive; `early` (0-1) decides while two are sold."""
    sold = [part for part in found if year < part.last_year]
    if not sold:
        return ""
    return sold[-1 if early < OVERLAP_SHARE else 0].part_no


def law_of(code: str, part_no: str) -> Law | None:
    """Return the life law of a unit: the component's, with the design's own median where it has one."""
    law = components()[code].law
    median = parts()[part_no].median_years if part_no else 0.0
    if law is None or not median:
        return law
    return Law(law.scale, law.shape, median, law.median_km)
