"""Chances of several causes from counts: the Dirichlet law, borrowing from a family, with a cause never met before."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from analytics.estimators.seeds import generator

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


HALF = 0.5


@dataclass(frozen=True, slots=True)
class DirichletLaw:
    """Laws of the chances of several causes, a row each.

    Attributes
    ----------
    weight
        Imagined and counted jobs of each cause, shape (rows, n); 0 where a row has fewer causes.
    unseen
        The same of all causes that nobody has met yet.
    """

    weight: Floats
    unseen: float

    @property
    def mean(self) -> Floats:
        """Mean chance of each cause, shape (rows, n); 0 where there is none."""
        mean: Floats = self.weight / (self.weight.sum(axis=1, keepdims=True) + self.unseen)
        return mean

    def limits(self, confidence: float, own: Floats | None = None) -> tuple[Floats, Floats]:
        """Return limits of each chance, points of its beta law, shape (rows, n) each; they hold the mean.

        Parameters
        ----------
        confidence
            Probability between them: equal-tailed, and one-sided from 0 for a cause without a job of its own.
        own
            Jobs that ended at each cause, shape (rows, n); None: all causes get equal-tailed limits.

        Notes
        -----
        Next to nothing borrowed and no own job is a law so skewed that its mean lies beyond its quantiles: that no job
        of few ended there is taken for next to certain. So the upper limit of a cause without an own job is that of the
        law in which it weighs at least `HALF` a job (Jeffreys' prior), with the rest as it is.
        """
        rest = self.weight.sum(axis=1, keepdims=True) + self.unseen - self.weight
        there = self.weight > 0
        one, other = np.where(there, self.weight, 1.0), np.where(there, np.maximum(rest, 1e-12), 1.0)
        tail = (1 - confidence) / 2
        one_sided = np.zeros(there.shape, dtype=bool) if own is None else own <= 0
        lower = special.betaincinv(one, other, tail)
        weighs = np.where(one_sided, np.maximum(one, HALF), one)
        upper = special.betaincinv(weighs, other, np.where(one_sided, confidence, 1 - tail))
        low: Floats = np.where(there & ~one_sided, lower, 0.0)
        high: Floats = np.where(there, upper, 0.0)
        return low, high

    def draws(self, count: int, keys: list[tuple[str, ...]]) -> Floats:
        """Return plausible chances, drawn from each row's law, shape (rows, count, n).

        Parameters
        ----------
        count
            Draws of each row.
        keys
            Seed of each row, so that no row moves another one's draws (rule 7).
        """
        drawn = np.zeros((len(keys), count, self.weight.shape[1]))
        for row, key in enumerate(keys):  # a generator each; what is drawn from it is one call
            rng = generator(*key)
            known = np.flatnonzero(self.weight[row])
            drawn[row][:, known] = rng.standard_gamma(self.weight[row, known], size=(count, known.size))
            drawn[row] /= drawn[row].sum(axis=1, keepdims=True) + rng.standard_gamma(self.unseen, size=(count, 1))
        return drawn


def dirichlet_law(own: Floats, family: Floats, borrowed: float, unseen: float) -> DirichletLaw:
    """Return the law of the chances of each row's causes, after its own jobs and those of its family.

    Parameters
    ----------
    own
        Jobs that ended at each cause, shape (rows, n).
    family
        Jobs of the row's family, without its own, shape (rows, n).
    borrowed
        Own jobs that the whole family weighs as much as, at most; a smaller family weighs as many as it has.
    unseen
        Jobs that all causes nobody has met yet weigh as much as.

    Returns
    -------
    DirichletLaw
        Weights `own` + min(`borrowed`, family's jobs) x the family's shares.

    Raises
    ------
    ValueError
        If the shapes differ or a count is negative.
    """
    if own.shape != family.shape or (own < 0).any() or (family < 0).any():
        raise ValueError("own and family must be counts of the same shape, 0 or more")
    whole = family.sum(axis=1, keepdims=True)
    share = np.divide(family, whole, out=np.zeros_like(family), where=whole > 0)
    return DirichletLaw(own + np.minimum(borrowed, whole) * share, unseen)
