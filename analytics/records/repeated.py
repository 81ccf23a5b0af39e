"""Find the rows of one table whose key stands more than once in a feed, part by part."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.records.judge import read_rows

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date

    import numpy.typing as npt

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
    hashes = [_hashes(keyed, part, loaded_on).to_numpy() for part in parts]
    keys = np.concatenate([np.empty(0, dtype=np.uint64), *hashes])
    return pl.Series("key", _several(keys))


def _several(keys: npt.NDArray[np.uint64]) -> npt.NDArray[np.bool_]:
    """Return which keys stand there more than once: by sorting, which takes less memory than looking each up."""
    ordered = np.sort(keys)
    twice = ordered[1:][ordered[1:] == ordered[:-1]]
    if not twice.size:
        return np.zeros(keys.size, dtype=np.bool_)
    place = np.searchsorted(twice, keys)
    found: npt.NDArray[np.bool_] = twice[np.minimum(place, twice.size - 1)] == keys
    return found


def _hashes(keyed: Table, part: pl.DataFrame, loaded_on: date) -> pl.Series:
    read = read_rows(keyed, part, loaded_on)
    values = [
        pl.col(column.name) if column.default is None else pl.col(column.name).fill_null(pl.lit(column.default))
        for column in keyed.columns
    ]
    return read.select(pl.struct(values).hash().alias("key")).to_series()
