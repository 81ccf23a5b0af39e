"""What repairs tell, by number: text and distances are looked up for the rows that need them, at the very end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.spells.distance import stated_km

if TYPE_CHECKING:
    import duckdb
    from numpy.typing import NDArray

COLUMNS = (
    *("repair_no", "line_id", "slot_no", "window_no", "vehicle_id", "component", "position", "visit_day", "fault_on"),
    *("closed_on", "location", "reads_as", "reason_recorded", "action", "renews", "modified", "position_inferred"),
    *("joining", "ours", "whole_car", "has_slot", "part_no", "removed_part_no", "part_origin", "order_id"),
)
"""Columns of ``repair.sql`` that are looked up by number."""


@dataclass(frozen=True, slots=True)
class Steps:
    """Repairs by number: row i holds repair_no i + 1.

    Attributes
    ----------
    told
        `COLUMNS` of ``repair.sql`` and stated_km (total distance told on the order's own lines).
    papers
        Part numbers that papers tell: row i holds step_no -(i + 1).
    """

    told: pl.DataFrame
    papers: pl.Series

    def of(self, name: str, step: pl.Series) -> pl.Series:
        """Return what each step tells; null where there is none, or where papers tell it (a number below 0).

        Parameters
        ----------
        name
            Column of `told`.
        step
            repair_no, shape ``(n,)``.
        """
        place = pl.select(pl.when(step > 0).then(step - 1)).to_series()
        return self.told[name].gather(place)

    def rows(self, step: pl.Series, *names: str) -> pl.DataFrame:
        """Return several columns of what each step tells.

        Parameters
        ----------
        step
            repair_no, shape ``(n,)``.
        names
            Columns of `told`.
        """
        return pl.DataFrame([self.of(name, step).alias(name) for name in names])

    def part_origin(self, step: pl.Series) -> pl.Series:
        """Return the origin of the part that each step fitted, unknown where nobody tells it; parameters as `of`."""
        return self.of("part_origin", step).fill_null("unknown")

    def part_no(self, step: NDArray[np.int64]) -> pl.Series:
        """Return the number of the part that each step fitted, told by an order or by papers; null where there is none.

        Parameters
        ----------
        step
            repair_no, below 0 where papers tell, 0 where there is none; shape ``(n,)``.
        """
        fitted = self.of("part_no", pl.Series(step))
        by_papers = np.flatnonzero(step < 0)
        return fitted.scatter(by_papers, self.papers.gather(-step[by_papers] - 1)) if by_papers.size else fitted


def read_steps(connection: duckdb.DuckDBPyConnection, stated: pl.DataFrame) -> Steps:
    """Return what repairs and papers tell.

    Parameters
    ----------
    connection
        A connection on which the temporary tables of the history and the table ``fitting`` stand.
    stated
        order_id, stated_km; one row per order.
    """
    repair: pl.DataFrame = connection.table("repair").select(*COLUMNS).pl().sort("repair_no")
    papers: pl.DataFrame = (
        connection.table("fitting").select("step_no", "part_no").pl().sort("step_no", descending=True)
    )
    told = repair.drop("order_id").with_columns(stated_km=stated_km(repair["order_id"], stated))
    return Steps(told, papers["part_no"])
