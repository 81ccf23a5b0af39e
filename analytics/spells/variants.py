"""The design of every unit: of the part fitted, the factory's by serial, or of the part taken out (rule 18)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.spells.events import numbers_of
from analytics.spells.gathering import or_null
from analytics.spells.stretches import BUILT

if TYPE_CHECKING:
    from analytics.spells.events import Numbers
    from analytics.spells.slots import Slots
    from analytics.spells.steps import Steps
    from analytics.spells.stretches import Lives, Stretches


UNTOLD = {"variant": "unknown", "part_no": None, "variant_assumed": False, "variant_told_by": "nobody"}
"""What is known of a unit whose design nobody tells."""


@dataclass(frozen=True, slots=True)
class Variants:
    """Designs of units.

    Attributes
    ----------
    told
        variant (or ``unknown``), part_no (fitted, else told when taken out), variant_assumed (the factory's by serial),
        variant_told_by (fitting, taking out, factory or nobody); the last row is `UNTOLD`.
    row
        Row of `told` of each stretch, shape ``(stretches,)``.
    """

    told: pl.DataFrame
    row: Numbers

    def of(self, name: str, stretches: Numbers) -> pl.Series:
        """Return a column of `told` of each stretch."""
        return self.told[name].gather(self.row[stretches])


def unit_variants(lives: Lives, steps: Steps, slots: Slots, designs: pl.DataFrame, factory: pl.DataFrame) -> Variants:
    """Return the design of each stretch of a unit's life.

    Parameters
    ----------
    lives
        Units' lives.
    steps
        The repairs by number, and what papers tell.
    slots
        The positions by number.
    designs
        Rows of ``part_design.sql``.
    factory
        Rows of ``factory_variant.sql``.
    """
    stretches, events = lives.stretches, lives.events
    removed = np.zeros(stretches.slot.size, dtype=np.int64)
    ended = stretches.end >= 0
    removed[ended] = numbers_of(events.told["removed_step"])[stretches.end[ended]]
    made = _factory_row(stretches, factory)
    asked = np.flatnonzero((stretches.start_step != 0) | (removed > 0) | (stretches.stretch_no > 1) | (made >= 0))
    part_no = steps.part_no(stretches.start_step[asked])
    # a modification without a part keeps the number of what it modified
    last = np.maximum.accumulate(np.where(part_no.is_not_null(), asked, -1))
    kept = pl.select(pl.when(pl.Series(last >= stretches.unit[asked])).then(np.searchsorted(asked, last))).to_series()
    told = pl.DataFrame(
        {
            "component": slots.components(stretches.slot[asked]),
            "fitted_no": part_no.gather(kept),
            "removed_no": steps.of("removed_part_no", pl.Series(removed[asked])),
            "factory": factory["variant"].gather(or_null(made[asked])),
            "newly": part_no.is_null() & pl.Series(stretches.stretch_no[asked] > 1),
        }
    ).with_columns(part_no=pl.coalesce("fitted_no", "removed_no"))
    known = _designs(told, designs)
    row = np.full(stretches.slot.size, asked.size)
    row[asked] = np.arange(asked.size)
    return Variants(pl.concat([known, pl.DataFrame([UNTOLD], schema=known.schema)]), row)


def _factory_row(stretches: Stretches, factory: pl.DataFrame) -> Numbers:
    """Return the row of `factory` that tells the design of each stretch, -1 where none does."""
    of_slot = np.full(int(stretches.slot.max(initial=-1)) + 1, -1)
    of_slot[numbers_of(factory["slot_no"]) - 1] = np.arange(factory.height)
    return np.where(stretches.told_by == BUILT, of_slot[stretches.slot], -1)


def _designs(told: pl.DataFrame, designs: pl.DataFrame) -> pl.DataFrame:
    """Return variant, part_no, variant_assumed and variant_told_by."""
    of_component = designs.select("part_no", "component", design="variant")
    of_any = designs.group_by("part_no").agg(any_design=pl.col("variant").min())
    read = told.join(of_component, on=["part_no", "component"], how="left", maintain_order="left").join(
        of_any, on="part_no", how="left", maintain_order="left"
    )
    modified = pl.when("newly").then(pl.lit(", modified")).otherwise(pl.lit(""))
    unread = pl.col("part_no").is_null() & pl.col("factory").is_not_null()
    return read.select(
        variant=pl.coalesce("design", "any_design", "part_no", "factory", pl.lit("unknown")) + modified,
        part_no="part_no",
        variant_assumed=unread,
        variant_told_by=pl.when(pl.col("fitted_no").is_not_null())
        .then(pl.lit("fitting"))
        .when(pl.col("part_no").is_not_null())
        .then(pl.lit("taking out"))
        .when(unread)
        .then(pl.lit("factory"))
        .otherwise(pl.lit("nobody")),
    )
