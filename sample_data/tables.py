"""The rows of the feed that are no jobs: cars, components, places, parts, readings, owners' papers."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from sample_data.catalogue import candidate_places, components, scenario_rows
from sample_data.catalogue import series as all_series
from sample_data.parts import fits
from sample_data.written import Row, iso

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sample_data.career import Career
    from sample_data.dice import Dice
    from sample_data.roads import Instrument

BUILT_KNOWN = {"day": 0.6, "month": 0.15, "year": 0.2, "": 0.05}
DIGITS_KNOWN_SHARE = 0.7
PAPERS_UNIT_SHARE = 0.70
PAPERS_YEARS = 25
LEFT_WHY = {"sold": 0.6, "scrapped": 0.12, "stored": 0.18, "unknown": 0.1}


def vehicle_rows(
    dice: Dice, careers: Sequence[Career], instruments: Mapping[int, Instrument]
) -> tuple[list[Row], dict[str, int]]:
    """Return a row per car that was seen, and how many building dates are known to the year or month only."""
    rows = []
    counts = {"built_on year": 0, "built_on month": 0, "built_on empty": 0}
    for career in careers:
        car = career.car
        known = dice.weighted(list(BUILT_KNOWN), list(BUILT_KNOWN.values()))
        if known != "day":
            counts[f"built_on {known or 'empty'}"] += 1
        left = max(car.leaves, career.orders[-1].closed)
        row = {
            "vehicle_id": car.vehicle_id,
            "series": car.series,
            "built_on": iso(car.built)[: {"day": 10, "month": 7, "year": 4, "": 0}[known]],
            "serial": car.serial,
            "left_on": iso(left) if car.left_known and left <= career.shop.period.last else "",
            "owner_key": car.owner_key,
            "odometer_digits": str(instruments[car.number].digits) if dice.chance(DIGITS_KNOWN_SHARE) else "",
        }
        row["left_why"] = dice.weighted(list(LEFT_WHY), list(LEFT_WHY.values())) if row["left_on"] else ""
        rows.append(row)
    return rows, counts


def component_rows() -> list[Row]:
    """Return a row per component, position and, where not all have it, series."""
    everywhere = len(all_series())
    return [
        {
            "component": part.name,
            "position": position,
            "series": series,
            "system": part.system,
            "location": candidate_places()[part.code, position][0],
            "family": part.family,
            "renewed_by": part.renewed_by,
            "seen_at_service": "yes" if part.seen_at_service else "no",
            "safety_critical": "yes" if part.safety_critical else "no",
            "check_minutes": str(part.check_minutes),
            "may_harm": part.may_harm,
        }
        for part in components().values()
        for position in part.positions
        for series in (("",) if len(part.series) == everywhere else part.series)
    ]


def location_rows() -> list[Row]:
    """Return the places, the scenario's own file being in the native layout already."""
    return scenario_rows("locations")


def part_rows() -> list[Row]:
    """Return a row per part number and place it fits."""
    rows = {row["part_no"]: row for row in scenario_rows("parts")}
    made = []
    for fit in fits():
        part = rows[fit.part_no]
        made.append(
            {
                "part_no": fit.part_no,
                "component": components()[part["code"]].name,
                "position": fit.position,
                "series": fit.series,
                "serial_from": fit.serial_from,
                "serial_to": fit.serial_to,
                **{name: part[name] for name in PART_FACTS},
                "currency": "EUR",
            }
        )
    return made


PART_FACTS = (
    "unit",
    "covers_positions",
    "superseded_by",
    "looks_like",
    "supplier",
    "lead_time_days",
    "lead_time_p90_days",
    "unit_cost",
    "pack_size",
    "minimum_order",
    "shelf_life_months",
)


def reading_rows(careers: Sequence[Career], instruments: Mapping[int, Instrument]) -> list[Row]:
    """Return the odometer readings taken outside jobs."""
    rows = []
    for career in careers:
        for day, source in sorted(dict(career.readings).items()):
            figure, unit = instruments[career.car.number].reading(career.travel, day)
            rows.append(
                {
                    "vehicle_id": career.car.vehicle_id,
                    "read_on": iso(day),
                    "odometer": str(figure),
                    "odometer_unit": unit,
                    "source": source,
                }
            )
    return rows


def fitted_rows(dice: Dice, careers: Sequence[Career]) -> tuple[list[Row], int]:
    """Return what owners' papers tell of fittings before joining, and how many units were found on joining at all."""
    rows = []
    units = 0
    for career in careers:
        oldest = career.car.joined - round(PAPERS_YEARS * 365.25)
        for (code, position), unit in career.at_joining.items():
            units += 1
            if career.car.papers and unit.fitted >= oldest and dice.chance(PAPERS_UNIT_SHARE):
                rows.append(_fitted_row(dice, career, code, position))
    return rows, units


def _fitted_row(dice: Dice, career: Career, code: str, position: str) -> Row:
    unit = career.at_joining[code, position]
    row = {"vehicle_id": career.car.vehicle_id, "component": components()[code].name, "position": position}
    row |= {"fitted_from": iso(unit.fitted), "fitted_to": "", "part_no": unit.part_no if dice.chance(0.5) else ""}
    year = date.fromordinal(unit.fitted).year
    if dice.chance(0.6):
        last = min(date(year, 12, 31).toordinal(), career.car.joined - 1)
        row |= {"fitted_from": f"{year}-01-01", "fitted_to": iso(max(last, unit.fitted))}
    return row
