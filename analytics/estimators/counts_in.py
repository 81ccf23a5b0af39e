"""Take counts and exposures as numbers, lists, arrays or columns, and refuse what cannot be one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
import polars as pl
from numpy.typing import NDArray

from analytics.estimators.spells_in import refuse_rows

if TYPE_CHECKING:
    Floats = NDArray[np.float64]

Numbers: TypeAlias = float | Sequence[float | None] | NDArray[np.float64] | NDArray[np.int64] | pl.Series


def columns(*values: Numbers) -> tuple[Floats, ...]:
    """Return arrays of one length, a single number repeated, null as NaN.

    Examples
    --------
    >>> [array.tolist() for array in columns(2, [4, 8])]
    [[2.0, 2.0], [4.0, 8.0]]
    """
    arrays = [
        np.atleast_1d(np.asarray(value.cast(pl.Float64).to_numpy() if isinstance(value, pl.Series) else value, float))
        for value in values
    ]
    return tuple(np.array(array) for array in np.broadcast_arrays(*arrays))


def refuse_counts(where: str, **counts: Floats) -> None:
    """Raise if a count is negative, infinite or not whole; NaN stands for null and passes."""
    for name, values in counts.items():
        wrong = (values < 0) | (values != np.floor(values)) & np.isfinite(values) | np.isinf(values)
        refuse_rows(wrong, f"{name} is not a count", where, "give whole numbers from 0 on", **{name: values})


def refuse_negative(where: str, **amounts: Floats) -> None:
    """Raise if an exposure or expectation is negative or infinite; NaN stands for null and passes."""
    for name, values in amounts.items():
        wrong = (values < 0) | np.isinf(values)
        refuse_rows(wrong, f"{name} is not an amount", where, "give finite numbers from 0 on", **{name: values})
