"""What repairs tell, by number: text and distances are looked up for the rows that need them, at the very end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from analytics.spells.distance import stated_km

if TYPE_CHECKING:
    import duckdb


@dataclass(frozen=True, slots=True)
class Steps:
    """Repairs by number: row i holds repair_no i + 1.

    Attributes
    ----------
    told
        line_id, part_origin, stated_km (total distance told on the order's own lines).
    """

    told: pl.DataFrame

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


def read_steps(connection: duckdb.DuckDBPyConnection, stated: pl.DataFrame) -> Steps:
    """Return what repairs tell.

    Parameters
    ----------
    connection
        A connection on which the temporary tables of the history stand.
    stated
        order_id, stated_km; one row per order.
    """
    columns = ("repair_no", "line_id", "part_origin", "order_id")
    repair: pl.DataFrame = connection.table("repair").select(*columns).pl().sort("repair_no")
    return Steps(repair.select("line_id", "part_origin").with_columns(stated_km=stated_km(repair["order_id"], stated)))
