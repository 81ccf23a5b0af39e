"""Rows to gather where some have none."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.spells.events import Flags, Numbers


def or_null(rows: Numbers) -> pl.Series:
    """Return rows to gather, null (which gathers null) for those below 0."""
    return where(rows >= 0, rows)


def where(told: Flags, values: NDArray[Any]) -> pl.Series:
    """Return values, null where they are not told."""
    return pl.select(pl.when(pl.Series(told, dtype=pl.Boolean)).then(pl.Series(values))).to_series()


def value_at(values: NDArray[Any], rows: Numbers, other: object = 0) -> NDArray[Any]:
    """Return the value at each row, `other` where there is none (a row below 0)."""
    if values.size == 0:
        return np.full(rows.size, other, dtype=values.dtype)
    return np.where(rows >= 0, values[rows], np.array(other, dtype=values.dtype))
