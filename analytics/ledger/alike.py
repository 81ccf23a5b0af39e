"""Names that are probably one, misspelt: proposed to a person, never united by themselves."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import polars as pl

from analytics.ledger.names import name_key, read_as_written, unite_names
from analytics.ledger.queries import answer
from analytics.records.naming import SIDES

if TYPE_CHECKING:
    import duckdb

EVER = date.max
FIGURES = r"\p{Nd}+"
WORD = r"[^\s,;:]+"
NO_LETTER = r"[^\p{L}\p{M}\p{N}]+"


def proposals(connection: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """Return pairs of names that are probably one, likeliest first within a kind.

    Parameters
    ----------
    connection
        An open ledger; read-only is enough.

    Returns
    -------
    DataFrame
        kind, old_name, old_lines, old_example, new_name, new_lines, new_example, similarity (0-1); a person decides
        with `same`.

    Notes
    -----
    Compared is what is still apart after reading, word by word: a word of 4 letters may have one slip (a letter more,
    less, another or two swapped), of 8 or more two. The same words in another order, or written together, are proposed
    too. A name is proposed for the declared names near it or, where there is none, for the commonest. Names with other
    figures never are, nor two names that tables declare. Part numbers and ids of cars are proposed only where the same
    letters and figures follow each other, and cars only within a series.
    """
    unite_names(connection, EVER)
    try:
        keep_names(connection)
        return answer(connection, "alike", sides=list(SIDES))
    finally:
        read_as_written(connection)


def keep_names(connection: duckdb.DuckDBPyConnection) -> None:
    """Keep every name, as it is read now, as the temporary table ``name_in``, with what names are compared by.

    Parameters
    ----------
    connection
        An open ledger.
    """
    cars = connection.table("vehicles").pl().select("series", kind=pl.lit("vehicle"), name="vehicle_id")
    written = [answer(connection, query, as_of=EVER) for query in ("names_written", "names_numbered")]
    names = (
        pl.concat(written)
        .group_by("kind", name="written")
        .agg(pl.col("lines").sum(), pl.col("example").min(), declared=pl.col("declared").sum() > 0)
        .join(cars, on=["kind", "name"], how="left")
        .with_columns(key=name_key(pl.col("kind").replace("position", "location"), pl.col("name")))  # in its own order
        .with_columns(
            words=pl.col("key").str.extract_all(WORD),
            figures=pl.col("key").str.extract_all(FIGURES),
            bare=pl.col("key").str.to_lowercase().str.replace_all(NO_LETTER, ""),
        )
    )
    connection.register("frame_in", names)
    connection.execute("create or replace temp table name_in as from frame_in")
    connection.unregister("frame_in")
