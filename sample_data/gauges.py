"""Readings taken at checks: what the gauge showed, now and then in another unit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sample_data.catalogue import scenario_rows

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sample_data.dice import Dice
    from sample_data.lines import Line
    from sample_data.written import Job, Row

OTHER_UNIT_SHARE = 0.15
"""Share of gauges that show another unit."""

OTHER_UNIT = {"bar": ("kPa", 100.0), "V": ("mV", 1000.0)}
READ_SHARE = 0.35
"""Share of complaints at which somebody wrote the gauge's reading down."""

FAILED = {
    "fpump": ("V", 8.4, 12.4, 1),
    "vline": ("mbar lost in a minute", 20.0, 400.0, 0),
    "vres": ("operations", 1.0, 7.0, 0),
}
"""Component code of a complaint: unit, least and greatest reading, decimals."""

SOUND = {
    "vline": ("mbar lost in a minute", 0.0, 0.0, 0),
    "vres": ("operations", 10.0, 14.0, 0),
}
"""The same where nothing was found."""


def read_gauges(dice: Dice, jobs: Sequence[Job]) -> None:
    """Write readings on the lines of complaints, and some of those at checks in another unit.

    Parameters
    ----------
    dice
        Chance of gauges alone, so that nothing else in the archive moves.
    jobs
        All jobs, before their rows are written.
    """
    for job in jobs:
        for line in job.order.lines:
            if line.measured:
                _other_unit(dice, line)
            else:
                _complaint(dice, line)


def _other_unit(dice: Dice, line: Line) -> None:
    if dice.chance(OTHER_UNIT_SHARE):
        unit, times = OTHER_UNIT[line.measured_unit]
        line.measured, line.measured_unit = f"{float(line.measured) * times:.0f}", unit


def _complaint(dice: Dice, line: Line) -> None:
    kind = SOUND if line.kind == "no fault" else FAILED
    if line.symptom and line.code in kind and dice.chance(READ_SHARE):
        unit, low, high, decimals = kind[line.code]
        line.measured, line.measured_unit = f"{dice.uniform(low, high):.{decimals}f}", unit


def limit_rows() -> list[Row]:
    """Return the limits, the scenario's own file being in the native layout already."""
    return scenario_rows("limits")
