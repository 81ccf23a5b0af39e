"""The spells by age if watching ended otherwise: what a life turns on, beside the choice of rule 23."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.spells.events import numbers_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analytics.spells.slots import Slots
    from analytics.spells.stretches import Stretches

ENDINGS = ("last visit", "last visit and grace", "day of analysis")
"""Choices beside the last neutral visit (rule 23), in the order of their numbers from 1 on."""


def spells_by_ending(ages: Sequence[pl.DataFrame], stretches: Stretches, slots: Slots) -> pl.DataFrame:
    """Return the spells by age once per other choice of the day on which watching ends.

    Parameters
    ----------
    ages
        The pieces by age of each ending, sorted by stretch_id and entry.
    stretches
        The stretches of units' lives.
    slots
        The positions by number.

    Returns
    -------
    DataFrame
        ending (one of `ENDINGS`), vehicle_id, component, position, unit_no, entry, exit, exit_lower (days), event,
        age_known, vehicle_age (days).

    References
    ----------
    .. [1] Lesko et al. (2018), American Journal of Epidemiology 187(3), 623-632: what the choice does to an estimate.
    """
    return pl.concat(_named(pieces, name, stretches, slots) for pieces, name in zip(ages, ENDINGS, strict=True))


def _named(pieces: pl.DataFrame, ending: str, stretches: Stretches, slots: Slots) -> pl.DataFrame:
    stretch = numbers_of(pieces["stretch_id"]) - 1
    return slots.names(stretches.slot[stretch]).select(
        pl.lit(ending).alias("ending"),
        "vehicle_id",
        "component",
        "position",
        pl.Series("unit_no", stretches.unit_no[stretch]),
        *(pieces[name].cast(pl.Int64) for name in ("entry", "exit", "exit_lower", "event")),
        pl.Series("age_known", stretches.age_known[stretch]),
        pieces["vehicle_age"].cast(pl.Int64),
    )
