"""Rows that a careful reader must refuse, and values it must set aside; every one of them is told to the truth."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sample_data.truth import Dirty
from sample_data.written import iso

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sample_data.dice import Dice
    from sample_data.lines import Line
    from sample_data.written import Job, Row

REFUSED: dict[str, tuple[str, tuple[str, ...]]] = {
    "unreadable closed_on": ("closed_on", ("2019-02-30", "soon", "2021-13-04", "31.6.2018", "?", "2016-00-12")),
    "closed after the day of loading": ("closed_on", ("2062-03-01", "2107-05-14")),
    "action outside the list": ("action", ("swapped", "fettled", "made good", "swapped", "see note", "done", "fixed")),
    "reason outside the list": ("reason", ("wear and tear", "customer wish", "broken")),
    "unknown car": ("vehicle_id", ("car-9017", "car-0x4", "KAR-118", "car-7000", "spare car")),
}
"""Kind of dirt: the column it stands in and the words written there; each of these costs its line."""

SET_ASIDE: dict[str, tuple[str, tuple[str, ...]]] = {
    "unreadable opened_on": ("opened_on", ("2018-06-31", "spring", "2020-14-01", "n/a", "0000-00-00")),
    "opened after closed": ("opened_on", ("+9", "+31", "+2", "+365", "+14", "+1", "+60", "+5", "+3")),
    "unreadable odometer": ("odometer", ("12o456", "see card", "87 4xx", "-", "1.2.3")),
    "absurd odometer": ("odometer", ("99999999", "-540", "123456789", "1e12")),
    "unreadable quantity": ("quantity", ("one", "2x", "pair", "a few")),
    "unreadable cost": ("cost", ("free", "~120", "tbc")),
    "odometer in an unknown unit": ("odometer_unit", ("leagues", "kn")),
}
"""The same for values that are set aside alone; ``+n`` means so many days after ``closed_on``."""

ZERO_ODOMETERS = 6
"""Lines with odometer 0: a figure like any other, which only the car's other readings contradict."""

RESTARTED_NUMBERS = 8
RESTARTED_YEARS = (3, 4)
"""Years of the archive in which somebody typed the bare job number on a few orders."""

PLAIN_KINDS = ("failure", "check", "service", "small work", "no fault")
PLANTED = ("vact", "wmot", "vpump", "vcheck", "carb", "accumulator", "coil", "trig", "tstat", "fansw", "dist")
"""Components with planted truths: their lines stay clean, so that the planted counts are those of the feed."""


def soil(dice: Dice, jobs: Sequence[Job]) -> list[Dirty]:
    """Make lines dirty, every line in one way at most, and return what was done to which."""
    dirty = _restart_numbers(dice, jobs)
    used = {each.record_id for each in dirty}
    plain = dice.shuffled(
        [
            (job, number, line, row)
            for job in jobs
            for number, (line, row) in enumerate(job.pairs(), start=1)
            if line.kind in PLAIN_KINDS and line.code not in PLANTED and job.record_id not in used
        ]
    )
    for kinds in (REFUSED, SET_ASIDE):
        for kind, (column, words) in kinds.items():
            for word in words:
                dirty.append(_make(plain, kind, column, word))
    for _ in range(ZERO_ODOMETERS):
        dirty.append(_make(plain, "odometer 0", "odometer", "0"))
    return dirty


def _make(plain: list[tuple[Job, int, Line, Row]], kind: str, column: str, word: str) -> Dirty:
    """Soil the next line that suits the kind, and take its order out of those left."""
    place = next(place for place, (job, _, _, row) in enumerate(plain) if _suits(job, row, kind, column))
    job, number, _, row = plain[place]
    plain[:] = [each for each in plain if each[0] is not job]
    if kind == "opened after closed":
        word = iso(job.order.closed + int(word))
    dirty = Dirty("repairs", job.record_id, number, column, kind, word, row[column])
    row[column] = word
    return dirty


def _suits(job: Job, row: Row, kind: str, column: str) -> bool:
    if not row["opened_on"] or not row["odometer"]:
        return False
    if column == "odometer_unit":
        return bool(row["odometer_unit"])
    if kind in {"unknown car", "unreadable closed_on", "closed after the day of loading"}:
        return len(job.rows) == 1
    return bool(row[column]) or column == "opened_on"


def _restart_numbers(dice: Dice, jobs: Sequence[Job]) -> list[Dirty]:
    """Write the bare number on orders of two years: the second order with a number is another car's job."""
    years = sorted({job.record_id[:4] for job in jobs})
    first, second = (
        {job.running: job for job in jobs if job.record_id.startswith(years[place]) and _plain(job)}
        for place in RESTARTED_YEARS
    )
    both = [number for number in first if number in second and first[number].order.car is not second[number].order.car]
    dirty = []
    for number in sorted(dice.shuffled(both)[:RESTARTED_NUMBERS]):
        for job in (first[number], second[number]):
            true, job.record_id = job.record_id, f"{number:04d}"
            for row in job.rows:
                row["record_id"] = job.record_id
        dirty.append(Dirty("repairs", job.record_id, 1, "record_id", "number used twice", job.record_id, true))
    return dirty


def _plain(job: Job) -> bool:
    line = job.order.lines[0]
    return len(job.rows) == 1 and line.kind in PLAIN_KINDS and line.code not in PLANTED
