"""The last batch: how long it lasts in a fleet that shrinks, what stays unmet and what is left over."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analytics.scales import DAYS_PER_YEAR
from analytics.stock.counting_law import Repairs
from analytics.stock.demand import Compound
from analytics.stock.installed_base import LEAST, BaseDemand

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analytics.stock.groups import Group
    from analytics.stock.shelf import Shelf

    Floats = NDArray[np.float64]

YEARS = 10
"""How far a batch is looked ahead."""

STEPS_A_YEAR = 2
"""Renewals are reckoned by half-years."""

BATCHES = 4
"""Batches of the minimum order that are compared, besides none."""

RUNS_OUT = (0.1, 0.5, 0.9)
"""Chance that the batch has run out by then."""


@dataclass(frozen=True, slots=True)
class Batch:
    """What one batch means until the last year asked about.

    Attributes
    ----------
    batch
        Parts bought now.
    p_enough
        Chance that batch and stock last to the end.
    expected_unmet, expected_left
        Parts asked for in vain, and parts left at the end, on average.
    runs_out
        Years from now by which the parts have run out with chances 0.1, 0.5, 0.9; None = not by the end.
    """

    batch: int
    p_enough: float
    expected_unmet: float
    expected_left: float
    runs_out: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Ahead:
    """The demand by several ends: years from now, rising, and the chance of each demand until then."""

    years: tuple[float, ...]
    masses: tuple[Floats, ...]


def demand_ahead(demand: BaseDemand, soon: dict[float, Floats], years: int) -> Ahead:
    """Return the demand until several ends, in a fleet whose cars leave and others join.

    Parameters
    ----------
    demand
        The group's installed base.
    soon
        Distributions by horizon in days; those below a year are taken.
    years
        How far ahead, 1 or more; beyond the first by whole years.

    Notes
    -----
    See `BaseDemand.renewed`. The variance counts pairs of failures at one position; presence is taken for each unit
    by itself.
    """
    mean, excess = demand.renewed(years * STEPS_A_YEAR, DAYS_PER_YEAR / STEPS_A_YEAR)
    masses = []
    for year in range(1, years + 1):
        end = year * STEPS_A_YEAR - 1
        days = np.full(mean.shape[1], year * DAYS_PER_YEAR)
        masses.append(demand.predictive.mass(Repairs(np.maximum(mean[end], LEAST), excess[end], days)))
    return _joined(soon, masses)


def rate_ahead(compound: Compound, soon: dict[float, Floats], years: int) -> Ahead:
    """Return the same where only a rate is known, which stays as it is; parameters as `demand_ahead`."""
    return _joined(soon, [compound.mass(np.array([year * DAYS_PER_YEAR])) for year in range(1, years + 1)])


def _joined(soon: dict[float, Floats], masses: list[Floats]) -> Ahead:
    early = sorted(days for days in soon if days < 0.9 * DAYS_PER_YEAR)
    ends = [*(days / DAYS_PER_YEAR for days in early), *(float(year) for year in range(1, len(masses) + 1))]
    return Ahead(tuple(ends), (*(soon[days] for days in early), *masses))


def supply_rows(
    group: Group, shelf: Shelf, foretold: dict[str, object], soon: dict[float, Floats]
) -> list[dict[str, object]]:
    """Return a group's rows of table ``supply_end``, where its smallest order outlasts the delivery after this one.

    Parameters
    ----------
    group
        What is known of it.
    shelf
        Its stock and terms.
    foretold
        Its row of table ``reorder``.
    soon
        Its distributions by horizon, days.
    """
    most, horizon = foretold["p90"], foretold["horizon_days"]
    if not isinstance(most, int) or not isinstance(horizon, float) or shelf.minimum_order <= most:
        return []
    held = shelf.available(horizon)
    if isinstance(group.basis, BaseDemand):
        ahead = demand_ahead(group.basis, soon, YEARS)
    else:
        ahead = rate_ahead(Compound(group.counted.history), soon, YEARS)
    told = {
        "part_no": group.live_no,
        "years": float(YEARS),
        "cars_leave": isinstance(group.basis, BaseDemand),
        "held": held,
    }
    return [
        {
            **told,
            "batch": row.batch,
            "p_enough": row.p_enough,
            "expected_unmet": row.expected_unmet,
            "expected_left": row.expected_left,
            **dict(zip(("runs_out_p10", "runs_out_p50", "runs_out_p90"), row.runs_out, strict=True)),
        }
        for row in batches(ahead, sizes(shelf), held)
    ]


def sizes(shelf: Shelf) -> list[int]:
    """Return the batches to compare: none, and whole packs of one to four times the minimum order."""
    packs = -(-shelf.minimum_order // shelf.pack_size)
    return [packs * shelf.pack_size * times for times in range(BATCHES + 1)]


def batches(ahead: Ahead, compared: Sequence[int], held: float) -> list[Batch]:
    """Return the regret table: what each batch means, beside what is held already.

    Parameters
    ----------
    ahead
        The demand until several ends, the last one asked about.
    compared
        Batches, parts.
    held
        Parts on the shelf and on order, less those reserved.
    """
    last = ahead.masses[-1]
    needed = np.arange(last.size)
    rows = []
    for batch in compared:
        enough = batch + max(held, 0.0)
        # gone means that one more was asked for than there was
        gone = [max(0.0, 1 - float(mass[: int(enough) + 1].sum())) for mass in ahead.masses]
        rows.append(
            Batch(
                batch,
                1 - gone[-1],
                float(last @ np.maximum(needed - enough, 0)),
                float(last @ np.maximum(enough - needed, 0)),
                tuple(_when(ahead.years, np.maximum.accumulate(gone), chance) for chance in RUNS_OUT),
            )
        )
    return rows


def _when(years: tuple[float, ...], gone: Floats, chance: float) -> float | None:
    """Return when a rising chance reaches a level, linear between the ends; None = not at all."""
    reached = np.flatnonzero(gone >= chance)
    if reached.size == 0:
        return None
    at = int(reached[0])
    from_year, from_chance = (years[at - 1], float(gone[at - 1])) if at else (0.0, 0.0)
    share = (chance - from_chance) / (float(gone[at]) - from_chance)
    return from_year + share * (years[at] - from_year)
