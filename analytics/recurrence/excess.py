"""How much a place stands out among many, and how often one would stand out so much by chance."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import special

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

HALVINGS = 60
SAME = 1e-9
"""Two excesses that differ by less are one: sums of logs in another order."""

USUALLY = 0.8
"""How often an excess or a trend must be found to be called detectable; common practice, no source."""


def excess(here: Floats, rest: Floats, share: Floats) -> Floats:
    r"""Return the log likelihood ratio of a place that has more than its share; 0 where it has not.

    Parameters
    ----------
    here, rest
        Faults at the place and at those it is compared with, same shape.
    share
        Share of all of them that chance would put here, 0 to 1.

    Notes
    -----
    :math:`O \ln(O / E) + (N - O) \ln((N - O) / (N - E))` for :math:`O > E = N \cdot \mathrm{share}`, N given.

    References
    ----------
    .. [1] Kulldorff, Fang and Walsh (2003), Biometrics 59(2), 323-331: a tree-based scan statistic; from memory.

    Examples
    --------
    >>> excess(np.array([3.0, 1.0]), np.array([1.0, 3.0]), np.array([0.25, 0.25])).round(4)
    array([2.1972, 0.    ])
    """
    total = here + rest
    usual, others = total * share, total * (1 - share)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = special.xlogy(here, here / usual) + special.xlogy(rest, rest / others)
    return np.where(here > usual, np.maximum(np.nan_to_num(ratio), 0.0), 0.0)


def chance(found: Floats, greatest: Floats, looks: int) -> Floats:
    """Return how often the greatest excess of all places would be at least so large by chance.

    Parameters
    ----------
    found
        Excess of each place, ``(n,)``.
    greatest
        The greatest excess of each draw in which no place differs from another, ``(draws,)``.
    looks
        How many such sets of places were looked at; the chance is multiplied by it, and is at most 1.

    Notes
    -----
    The rank of what was found among the draws, itself counted: (r + 1) / (draws + 1).
    """
    below = np.searchsorted(np.sort(greatest), found - SAME, side="left")
    rank: Floats = (greatest.size - below + 1) / (greatest.size + 1)
    return np.minimum(looks * rank, 1.0)


def noticed_from(greatest: Floats, p: float, looks: int) -> float:
    """Return the excess above which `chance` is at most p; infinite where there are too few draws for that."""
    may_exceed = int(p / looks * (greatest.size + 1) + SAME) - 1
    return float(np.sort(greatest)[::-1][may_exceed]) if may_exceed >= 0 else np.inf


def detectable_ratio(expected: Floats, rest: Floats, share: Floats, least: float) -> Floats:
    """Return how many times as many as expected a place must truly have, so that it is usually noticed.

    Parameters
    ----------
    expected
        Faults by chance, above 0, ``(n,)``.
    rest, share
        As in `excess`.
    least
        Excess from which a place is noticed.

    Returns
    -------
    ndarray
        ``(n,)``; infinite where no number of faults would do.

    Notes
    -----
    The least number of faults that would be noticed, found by halving, then the Poisson mean that reaches it with
    a chance of `USUALLY`.
    """
    low = share / np.maximum(1 - share, SAME) * rest
    high = np.maximum(low, 1.0)
    for _ in range(HALVINGS):
        high = np.where(excess(high, rest, share) > least, high, 2 * high)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        enough = excess(middle, rest, share) > least
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    needed = np.maximum(np.ceil(high - SAME), 1.0)
    possible = excess(high, rest, share) > least
    return np.where(possible, special.gammaincinv(needed, USUALLY) / expected, np.inf)
