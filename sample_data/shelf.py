"""What lies on the shelf, batch by batch, and what was sold over the counter."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from sample_data.catalogue import components, scenario_rows
from sample_data.lives import DAYS_PER_YEAR
from sample_data.parts import fits, parts
from sample_data.written import Row, iso

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sample_data.career import Career
    from sample_data.dice import Dice
    from sample_data.fleet import Period

SOLD_PER_YEAR = {
    "SL-1102": 2.0,
    "SL-1120": 1.0,
    "SL-2101": 5.0,
    "SL-2102": 5.0,
    "SL-2110": 3.0,
    "SL-5110": 2.5,
    "SL-7102": 4.0,
    "SL-7110": 3.0,
    "SL-7120": 2.0,
    "SL-9101": 3.0,
    "SL-9401": 4.0,
    "SL-9410": 3.5,
}
"""Counter sales of a live part number per year of the archive."""
LOST_SHARE, CAR_NAMED_SHARE = 0.06, 0.15
LAST_TIME_BUY, LAST_TIME_BATCH = "SL-9401", 60
COUNTED_BEFORE_END = 4
ON_THE_SHELF = {"SL-9401": 5, "SL-6101": 6, "SL-7102": 4, "SL-3101": 1}
"""Stock that the scenario needs: the extrusion is nearly gone, the accumulators are short before their wave."""


def stock_rows(dice: Dice, period: Period) -> list[Row]:
    """Return last year's and this year's count of every live part number, a row per batch."""
    rows = []
    now, before = period.last - COUNTED_BEFORE_END, period.last - COUNTED_BEFORE_END - 364
    for facts in scenario_rows("parts"):
        if facts["superseded_by"]:
            rows.append(_count(facts["part_no"], now, dice.whole(0, 2), ""))
            continue
        number = facts["part_no"]
        pack = int(facts["pack_size"])
        rows.append(_count(number, before, dice.whole(0, 4) * pack, _made_on(dice, before, facts)))
        held = ON_THE_SHELF.get(number, dice.whole(0, 3) * pack)
        row = _count(number, now, held, _made_on(dice, now, facts))
        row["reserved"] = str(min(held, dice.whole(0, 2)))
        if dice.chance(0.3) and number not in ON_THE_SHELF:
            row["on_order"] = str(pack * dice.whole(1, 3))
            row["on_order_due"] = iso(period.last + dice.whole(5, int(facts["lead_time_p90_days"])))
        rows.append(row)
        if row["made_on"] and held and dice.chance(0.4):
            rows.append(_count(number, now, pack, _made_on(dice, now - 500, facts)))
    return rows


def _made_on(dice: Dice, counted: int, facts: Row) -> str:
    return iso(counted - dice.whole(60, 700)) if facts["shelf_life_months"] else ""


def _count(part_no: str, day: int, on_hand: int, made_on: str) -> Row:
    return {"part_no": part_no, "counted_on": iso(day), "on_hand": str(on_hand), "made_on": made_on}


def sale_rows(dice: Dice, period: Period, careers: Sequence[Career]) -> list[Row]:
    """Return the counter sales of the archive, no two alike."""
    rows: dict[tuple[str, ...], Row] = {}
    for part_no, per_year in SOLD_PER_YEAR.items():
        last = period.day(min(parts()[part_no].last_year, period.years))
        first = period.first if part_no != "SL-2102" else period.day(parts()["SL-2101"].last_year)
        day = first + round(dice.exponential(DAYS_PER_YEAR / per_year))
        while day <= min(last, period.last):
            row = _sale(dice, part_no, day, careers)
            rows.setdefault(tuple(row.values()), row)
            day += 1 + round(dice.exponential(DAYS_PER_YEAR / per_year))
    return sorted(rows.values(), key=lambda row: (row["sold_on"], row["part_no"]))


def _sale(dice: Dice, part_no: str, day: int, careers: Sequence[Career]) -> Row:
    most = 2 if components()[parts()[part_no].code].mate_share else 1
    lost = dice.chance(LOST_SHARE)
    row = {"part_no": part_no, "sold_on": date.fromordinal(day).isoformat()}
    row |= {"quantity": str(dice.whole(1, most)), "vehicle_id": "", "lost": "yes" if lost else "no"}
    if dice.chance(CAR_NAMED_SHARE):
        taking = {fit.series for fit in fits() if fit.part_no == part_no}
        cars = [c.car for c in careers if c.car.series in taking and c.car.joined + 60 < day < c.car.leaves]
        row["vehicle_id"] = dice.pick(cars).vehicle_id if cars else ""
    return row
