"""What the records cannot tell: everything quarantined, set aside, inferred or left out, with counts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.ledger import quarantine_rows, set_aside_rows

if TYPE_CHECKING:
    import duckdb


def data_quality(connection: duckdb.DuckDBPyConnection, left_out: pl.DataFrame) -> pl.DataFrame:
    """Return snapshot table ``data_quality``: one row per kind of finding.

    Parameters
    ----------
    connection
        An open ledger.
    left_out
        `kind`, `count`, `out_of`, `example_record`, `says`: what the spells stage left out or marked.
    """
    waiting = _counted(quarantine_rows(connection), "waiting in quarantine", "mend it and load it again")
    aside = _counted(set_aside_rows(connection), "value set aside", "the line was kept without it")
    rows = pl.concat(
        [
            left_out.select(
                "kind",
                pl.col("count").cast(pl.Int64),
                pl.when(pl.col("out_of") > 0).then(pl.col("count") / pl.col("out_of")).alias("share"),
                "example_record",
                "says",
            ),
            waiting,
            aside,
        ]
    )
    return (
        rows.filter(pl.col("count") > 0)
        .group_by("kind")
        .agg(pl.col("count").sum(), pl.col("share").max(), pl.col("example_record").first(), pl.col("says").first())
        .sort("kind")
    )


def _counted(rows: pl.DataFrame, what: str, says: str) -> pl.DataFrame:
    place = pl.format("{}, row {}", "file", "row_no")
    return (
        rows.group_by("table", "column", maintain_order=True)
        .agg(count=pl.len().cast(pl.Int64), example_record=place.first())
        .select(
            kind=pl.format("{}: {}, {}", pl.lit(what), "table", pl.col("column").fill_null("whole row")),
            count="count",
            share=pl.lit(None, dtype=pl.Float64),
            example_record="example_record",
            says=pl.lit(says),
        )
    )
