"""P-values of many tests at once, adjusted so that chance alone rarely looks like a finding."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np
import polars as pl

from analytics.estimators.result_frame import shown
from analytics.estimators.spells_in import refuse_rows

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

METHODS = ("bh", "holm")


def adjust_p_values(
    p: Sequence[float | None] | NDArray[np.float64] | pl.Series, method: Literal["bh", "holm"] = "bh"
) -> pl.DataFrame:
    r"""Return p-values that can be compared with a bound as if each test had been the only one.

    Parameters
    ----------
    p
        Shape ``(n,)``, in 0 to 1; nulls are tests that were not made: they stay null and do not count.
    method
        ``bh`` keeps the expected share of false findings below the bound (Benjamini-Hochberg), ``holm`` the probability
        of any false finding.

    Returns
    -------
    DataFrame
        In the order of `p`: `p_value`, `adjusted_p`.

    Raises
    ------
    SpellError
        If a p-value is outside 0 to 1; the message names the rows.
    ValueError
        If `method` is not one of those above.

    Notes
    -----
    With the m p-values sorted, ``bh`` is :math:`\min_{j \ge i} p_{(j)} m / j`, ``holm``
    :math:`\max_{j \le i} (m - j + 1) p_{(j)}`, both at most 1.

    References
    ----------
    .. [1] Benjamini and Hochberg (1995), Journal of the Royal Statistical Society B 57(1), 289-300.
    .. [2] Holm (1979), Scandinavian Journal of Statistics 6(2), 65-70.

    Examples
    --------
    >>> adjust_p_values([0.5, 0.6, 0.1, 0.001])["adjusted_p"].round(3).to_list()
    [0.6, 0.6, 0.2, 0.004]
    """
    if method not in METHODS:
        raise ValueError(f"method must be one of {', '.join(METHODS)}, got {method!r}")
    values = np.asarray(p.cast(pl.Float64).to_numpy() if isinstance(p, pl.Series) else p, dtype=np.float64)
    where = "adjust_p_values(p)"
    refuse_rows((values < 0) | (values > 1), "p is not a probability", where, "give numbers from 0 to 1", p=values)
    made = np.flatnonzero(~np.isnan(values))
    order = made[np.argsort(values[made], kind="stable")]
    rising, tests = values[order], order.size
    rank = np.arange(1, tests + 1)
    if method == "bh":
        adjusted = np.minimum.accumulate((rising * tests / rank)[::-1])[::-1]
    else:
        adjusted = np.maximum.accumulate(rising * (tests - rank + 1))
    out = np.full(values.shape, np.nan)
    out[order] = np.minimum(adjusted, 1)
    return pl.DataFrame({"p_value": shown(values), "adjusted_p": shown(out)})
