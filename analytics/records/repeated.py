"""Find the rows of one table whose key stands more than once in a feed, part by part."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from analytics.records.judge import read_rows

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date

    from analytics.records.table import Table


def repeated_keys(table: Table, parts: Iterable[pl.DataFrame], loaded_on: date) -> pl.Series:
    """Return, for every row of the parts in order, whether another row may have its key.

    Parameters
    ----------
    table
        Declared table.
    parts
        Its mapped rows, in parts of any length.
    loaded_on
        Day of loading.

    Returns
    -------
    Series of Boolean
        True for every row that shares its key as `judge` reads it; hardly ever true for another one, for keys are
        compared by a hash of 64 bits.

    Examples
    --------
    >>> from datetime import date
    >>> from analytics.records.feed import VEHICLES
    >>> cars = [pl.DataFrame({"vehicle_id": ids, "file": "cars.csv", "row_no": 1}) for ids in (["A", "B"], [" A"])]
    >>> repeated_keys(VEHICLES, cars, date(2026, 1, 1)).to_list()
    [True, False, True]
    """
    keyed = replace(table, columns=tuple(table.column(name) for name in table.key))
    hashes = [_hashes(keyed, part, loaded_on) for part in parts]
    return pl.concat([pl.Series("key", [], dtype=pl.UInt64), *hashes]).is_duplicated()


def _hashes(keyed: Table, part: pl.DataFrame, loaded_on: date) -> pl.Series:
    read = read_rows(keyed, part, loaded_on)
    values = [
        pl.col(column.name) if column.default is None else pl.col(column.name).fill_null(pl.lit(column.default))
        for column in keyed.columns
    ]
    return read.select(pl.struct(values).hash().alias("key")).to_series()
