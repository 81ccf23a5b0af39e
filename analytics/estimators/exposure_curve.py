"""Exposure of every group as a smooth curve over the shape, so that a search need not return to the units.

W / shape = integral of t**shape d(log t) over the time that units were watched: a positive sum of exponentials in the
shape, whose log has a short Chebyshev series in log shape. The series of a doubling of the shape (0.2 to 0.4, 0.4 to
0.8...) share their powers, since t**(2 s) is the square of t**s. The last terms of a series tell its error; a group
that needs more is given shorter pieces, and one that needs more still is summed over its units each time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.polynomial.chebyshev import chebder

from analytics.estimators.known_units import exposure, exposure_slope
from analytics.estimators.side_by_side import side_by_side

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.estimators.life_spells import LifeSpells

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

LEAST_SHAPE, DOUBLINGS = 0.2, 7
"""Curves run from 0.2 to 0.2 * 2**7 = 25.6."""

TERMS = 20
"""Terms of each series; Weibull lives leave about 1e-13 of log W with these."""

LARGEST_LAST_TERM = 1e-11
"""A series whose last two terms exceed this is not trusted: the error is about the last term."""

SHORTER = 4
"""Pieces per doubling for groups whose curve bends too much for one."""

SPELLS_AT_ONCE = 8192
"""Powers of so many times stay in the cache."""

SPELLS_PER_TASK = 2**15
"""A thread is given the groups of so many times at once."""

SERIES: Floats = np.cos((np.arange(TERMS) + 0.5) * math.pi / TERMS)
"""Places in a piece, from 1 down to -1, where the sums are taken."""


@dataclass(frozen=True, slots=True)
class _Pieces:
    """Series of log(W / shape) per group and piece.

    Attributes
    ----------
    terms, slopes
        Shape ``(terms, pieces, groups)``, of the curve and of its derivative in log shape.
    per_doubling
        Pieces per doubling of the shape.
    rough
        Shape ``(groups,)``, whether a series has not settled.
    """

    terms: Floats
    slopes: Floats
    per_doubling: int
    rough: NDArray[np.bool_]

    def exposure(self, shape: Floats) -> Floats:
        """Return W at shapes ``(groups, k)``."""
        value: Floats = shape * np.exp(self._sum(self.terms, shape))
        return value

    def slope(self, shape: Floats) -> Floats:
        """Return dW / dshape at shapes ``(groups, k)``."""
        return np.exp(self._sum(self.terms, shape)) * (1 + self._sum(self.slopes, shape))

    def _sum(self, terms: Floats, shape: Floats) -> Floats:
        pieces, groups = terms.shape[1:]
        along = np.log2(shape / LEAST_SHAPE) * self.per_doubling
        piece = np.clip(np.floor(along), 0, pieces - 1).astype(np.int64)
        column = piece * groups + np.arange(groups)[:, None]
        twice = 2 * (2 * (along - piece) - 1)
        flat = terms.reshape(terms.shape[0], pieces * groups)
        last, before = np.zeros_like(shape), np.zeros_like(shape)
        for term in flat[:0:-1]:  # Clenshaw's sum
            last, before = term.take(column) + twice * last - before, last
        return np.asarray(flat[0].take(column) + 0.5 * twice * last - before, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class ExposureCurve:
    """W of every group at any shape of the bracket.

    Attributes
    ----------
    smooth
        Series of all groups.
    shorter, bent
        Series of the groups in `bent`, of shorter pieces.
    spells, others
        Units of the groups in `others`, summed each time; where there are none, any.
    """

    smooth: _Pieces
    shorter: _Pieces | None
    bent: Ints
    spells: LifeSpells
    others: Ints

    def exposure(self, shape: Floats) -> Floats:
        """Return W at shapes ``(groups, k)`` between 0.2 and 25.6, as `known_units.exposure`."""
        value = self.smooth.exposure(shape)
        if self.shorter is not None:
            value[self.bent] = self.shorter.exposure(shape[self.bent])
        if self.others.size:
            value[self.others] = exposure(self.spells, shape[self.others])
        return value

    def slope(self, shape: Floats) -> Floats:
        """Return dW / dshape, as `exposure`."""
        value = self.smooth.slope(shape)
        if self.shorter is not None:
            value[self.bent] = self.shorter.slope(shape[self.bent])
        if self.others.size:
            value[self.others] = exposure_slope(self.spells, shape[self.others])
        return value


def exposure_curve(spells: LifeSpells) -> ExposureCurve:
    """Return the exposure of units of known age as a curve over the shape."""
    smooth = _pieces(spells, 1)
    bent = np.flatnonzero(smooth.rough)
    shorter, others = None, bent
    if bent.size:
        shorter = _pieces(spells.of_groups(bent), SHORTER)
        others = bent[shorter.rough]
    return ExposureCurve(smooth, shorter, bent, spells.of_groups(others) if others.size else spells, others)


def _pieces(spells: LifeSpells, per_doubling: int) -> _Pieces:
    starts = (np.arange(per_doubling)[:, None] + (SERIES + 1) / 2) / per_doubling
    shapes = LEAST_SHAPE * 2 ** starts.ravel()
    sums = np.zeros((DOUBLINGS, shapes.size, spells.groups))
    _add_powers(sums, shapes, spells.lower, spells.group, 1)
    _add_powers(sums, shapes, spells.entry, spells.group, -1)
    sums /= (shapes * 2 ** np.arange(DOUBLINGS)[:, None])[..., None]
    empty = (sums <= 0).any(axis=(0, 1))
    curve = np.log(np.where(empty, 1.0, sums)).reshape(DOUBLINGS * per_doubling, TERMS, spells.groups)
    terms = np.stack([np.tensordot(curve, row, (1, 0)) for row in _TO_TERMS])
    per_log_shape = 2 * per_doubling / math.log(2)
    rough = np.abs(terms[-2:]).max(axis=(0, 1)) > LARGEST_LAST_TERM
    return _Pieces(terms, chebder(terms) * per_log_shape, per_doubling, rough | empty)


def _add_powers(sums: Floats, shapes: Floats, time: Floats, group: Ints, sign: int) -> None:
    """Add ``sign * time**shape`` to the sums per group, at each shape and its doublings ``(doublings, k, groups)``."""
    some = time > 0
    log_time, group = np.log(time[some]), group[some]

    def add(rows: slice) -> None:
        for begin in range(rows.start, rows.stop, SPELLS_AT_ONCE):
            here = slice(begin, min(begin + SPELLS_AT_ONCE, rows.stop))
            _add_some(sums, shapes, log_time[here], group[here], sign)

    # no group is in two tasks, so that threads do not meet and a sum does not depend on how many there are
    side_by_side(add, _whole_groups(group))


def _add_some(sums: Floats, shapes: Floats, log_time: Floats, group: Ints, sign: int) -> None:
    power = np.multiply.outer(shapes, log_time)
    np.exp(power, out=power)
    first = np.append(0, np.flatnonzero(group[1:] != group[:-1]) + 1)
    for number, doubling in enumerate(sums):
        if number:
            np.multiply(power, power, out=power)
        doubling[:, group[first]] += sign * np.add.reduceat(power, first, axis=1)


def _whole_groups(group: Ints) -> list[slice]:
    """Cut rows, sorted by group, where a group ends, into parts of `SPELLS_PER_TASK` and less than a group more."""
    ends = np.append(np.flatnonzero(group[1:] != group[:-1]) + 1, group.size)
    cuts = [0]
    while cuts[-1] < group.size:
        last = int(np.searchsorted(ends, cuts[-1] + SPELLS_PER_TASK))
        cuts.append(int(ends[min(last, ends.size - 1)]))
    return [slice(begin, end) for begin, end in pairwise(cuts)]


_TO_TERMS: Floats = (
    np.cos(np.arange(TERMS)[:, None] * np.arccos(SERIES)) * np.where(np.arange(TERMS) > 0, 2, 1)[:, None] / TERMS
)
"""From values at the places of `SERIES` to the terms."""
