"""What a busy shop does not write down: places, positions, reasons, readings; and its small habits."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sample_data.catalogue import components
from sample_data.lines import Line
from sample_data.lives import DAYS_PER_YEAR
from sample_data.parts import parts

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sample_data.dice import Dice
    from sample_data.written import Job, Row

BLANK_LOCATION_SHARE = 0.25
BLANK_POSITION_SHARE = 0.25
BLANK_POSITION_CODE = "vact"
OTHER_BLANK_POSITION_SHARE = 0.03
NO_REASON_SHARE = 0.10
FORGETTABLE = ("failure", "found", "consequence", "mended", "accident", "mate", "check")
"""Kinds of lines whose reason may be missing without turning a good check or a visit for nothing into a fault."""
NO_ODOMETER_SHARE, NO_OPENING_SHARE, NOTE_SHARE = 0.15, 0.015, 0.03
PART_ONLY, ACTION_ONLY, CREDITS = 60, 40, 12
CAME_FOR_FROM_YEAR = 2
NOTES = ("owner to ring back", "keys with the neighbour", "next time look at the other side", "was in a hurry")
NOTE_MARK = "neighbour"
"""A word that stands in notes only: it must be found in no result."""


def forget(dice: Dice, jobs: Sequence[Job], first_day: int) -> dict[str, int]:
    """Leave out what the shop leaves out, in exact shares; return how many values a reader must fill in, by kind."""
    _forget_places(dice, jobs)
    _forget_positions(dice, jobs)
    _forget_reasons(dice, jobs)
    _forget_head(dice, jobs, first_day)
    return _lean_rows(dice, jobs)


def _groups(jobs: Sequence[Job]) -> list[list[tuple[Line, Row]]]:
    """Return the lines of each repair together: what is not written on one is not written on the others."""
    groups: dict[tuple[str, str, str], list[tuple[Line, Row]]] = {}
    for job in jobs:
        for line, row in job.pairs():
            groups.setdefault((job.record_id, line.code, line.true_position), []).append((line, row))
    return list(groups.values())


def _blank(dice: Dice, groups: list[list[tuple[Line, Row]]], column: str, share: float) -> None:
    """Empty a column on `share` of the lines."""
    left = round(share * sum(len(group) for group in groups))
    for group in dice.shuffled(groups):
        if len(group) <= left:
            left -= len(group)
            for _, row in group:
                row[column] = ""


def _forget_places(dice: Dice, jobs: Sequence[Job]) -> None:
    told = [[pair for pair in group if pair[0].location] for group in _groups(jobs)]
    _blank(dice, [group for group in told if group], "location", BLANK_LOCATION_SHARE)


def _forget_positions(dice: Dice, jobs: Sequence[Job]) -> None:
    named = [group for group in _groups(jobs) if group[0][0].position and group[0][0].kind != "return"]
    flaps = [group for group in named if group[0][0].code == BLANK_POSITION_CODE]
    _blank(dice, flaps, "position", BLANK_POSITION_SHARE)
    others = [g for g in named if len(components()[g[0][0].code].positions) > 1 and g[0][0].code != BLANK_POSITION_CODE]
    _blank(dice, others, "position", OTHER_BLANK_POSITION_SHARE)


def _forget_reasons(dice: Dice, jobs: Sequence[Job]) -> None:
    able: list[Row] = []
    for job in jobs:
        kept = next((row for _, row in job.pairs() if row["reason"] == "planned"), None)
        # beside a planned line a fault without a reason would read as renewed in passing
        kinds = FORGETTABLE if kept is None else ("mate", "check")
        able += [row for line, row in job.pairs() if line.kind in kinds and row is not kept]
    wanted = round(NO_REASON_SHARE * sum(len(job.rows) for job in jobs))
    for row in dice.shuffled(able)[:wanted]:
        row["reason"] = dice.pick(("", "not recorded"))


def _forget_head(dice: Dice, jobs: Sequence[Job], first_day: int) -> None:
    came_for_from = first_day + CAME_FOR_FROM_YEAR * DAYS_PER_YEAR
    for job in jobs:
        changed: Row = {}
        if dice.chance(NO_ODOMETER_SHARE):
            changed |= {"odometer": "", "odometer_unit": ""}
        if dice.chance(NO_OPENING_SHARE):
            changed["opened_on"] = ""
        if job.order.opened < came_for_from:
            changed["came_for"] = ""
        for row in job.rows:
            row.update(changed)
            if dice.chance(NOTE_SHARE):
                row["note"] = dice.pick(NOTES)


def _lean_rows(dice: Dice, jobs: Sequence[Job]) -> dict[str, int]:
    """Leave the component to the part number, the action to the part; write parts back that were not used."""
    whole = [(line, row) for job in jobs for line, row in job.pairs() if line.kind in {"failure", "found", "mate"}]
    with_part = dice.shuffled([row for line, row in whole if row["part_no"] and line.position])
    for row in with_part[:PART_ONLY]:
        row["component"] = ""
    replaced = [row for row in with_part[PART_ONLY:] if row["action"] == "replaced"]
    for row in replaced[:ACTION_ONLY]:
        row["action"] = ""
    single = [part for part in parts().values() if part.unit == "each"]
    for job in dice.shuffled([job for job in jobs if len(job.rows) == 1])[:CREDITS]:
        part = dice.pick([part for part in single if part.code not in {"vact", "trig", "coil"}])
        credit = dict(job.rows[0]) | dict.fromkeys(("symptom", "location", "cause", "position", "removed_part_no"), "")
        credit |= {"line_no": "2", "component": components()[part.code].name, "part_no": part.part_no, "quantity": "-1"}
        credit |= {"came_for": "", "finding": "taken back unused", "action": "none", "reason": "changed in passing"}
        credit |= {"cost": str(-part.unit_cost), "labour_minutes": "", "currency": "EUR", "part_origin": ""}
        job.rows.append(credit)
        job.order.lines.append(Line("credit", part.code))
    return {"component from part_no": PART_ONLY, "action from part_no": ACTION_ONLY, "credits": CREDITS}
