"""Take counts and exposures as numbers, lists, arrays or columns, and refuse what cannot be one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
import polars as pl
from numpy.typing import NDArray

from analytics.estimators.limits import check_confidence
from analytics.estimators.spells_in import refuse_rows

if TYPE_CHECKING:
    Floats = NDArray[np.float64]

Numbers: TypeAlias = float | Sequence[float | None] | NDArray[np.float64] | NDArray[np.int64] | pl.Series


@dataclass(frozen=True, slots=True)
class CountsOver:
    """Checked counts and what each is held against; all arrays have shape ``(n,)``.

    Attributes
    ----------
    count, amount
        Finite; 0 and 1 where nothing can be told.
    told
        Whether neither is null and the amount is above 0.
    """

    count: Floats
    amount: Floats
    told: NDArray[np.bool_]


def counts_over(
    where: str, confidence: float, *, count: tuple[str, Numbers], amount: tuple[str, Numbers]
) -> CountsOver:
    """Check a confidence, counts, and the exposures or expectations that they are held against.

    Parameters
    ----------
    where
        Name of the calling estimator, for the message.
    confidence
        Strictly between 0 and 1.
    count, amount
        Their names in the message, and one number or ``(n,)`` each.

    Raises
    ------
    SpellError
        If a count is negative or not whole, or an amount negative; the message names the rows.
    ValueError
        If `confidence` is not strictly between 0 and 1.

    Examples
    --------
    >>> counts_over("rate", 0.95, count=("events", [4, None]), amount=("exposure", 200.0)).told.tolist()
    [True, False]
    """
    check_confidence(confidence)
    counts, amounts = columns(count[1], amount[1])
    refuse_counts(where, **{count[0]: counts})
    refuse_negative(where, **{amount[0]: amounts})
    told = (counts >= 0) & (amounts > 0)
    return CountsOver(np.where(told, counts, 0.0), np.where(told, amounts, 1.0), told)


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
