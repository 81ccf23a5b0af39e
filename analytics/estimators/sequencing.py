"""In which order to check when one of several causes must be found: chance over minutes, covers opened once."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

Floats = NDArray[np.float64]
Whole = NDArray[np.intp]


class CheckSequence(NamedTuple):
    """An order of checks.

    Attributes
    ----------
    order
        Numbers of the checks from 0, the first one first.
    expected_minutes
        Minutes until the cause is found, on average; all checks are made where none of them finds it.
    """

    order: Whole
    expected_minutes: float


def check_sequence(
    probability: ArrayLike,
    minutes: ArrayLike,
    sensitivity: ArrayLike | None = None,
    group: ArrayLike | None = None,
    group_minutes: ArrayLike | None = None,
) -> CheckSequence:
    """Return the order of checks that finds the cause in the fewest minutes on average.

    Parameters
    ----------
    probability
        Chance that each check's own cause is the one, shape (n,); at most 1 together.
    minutes
        Minutes of each check, once it can be reached, shape (n,).
    sensitivity
        Chance that a check finds its cause where it is the one, shape (n,); None = 1.
    group
        Number from 0 of the cover behind which each check lies, -1 = none, shape (n,); None = no covers.
    group_minutes
        Minutes to open each cover, once, shape (number of covers,).

    Returns
    -------
    CheckSequence
        `order` and `expected_minutes`.

    Raises
    ------
    ValueError
        If the shapes differ, a chance lies outside 0 to 1, minutes are negative, or a cover has no minutes.

    Notes
    -----
    One fault, or faults independent of each other of which the first one found ends the search: checks go by chance
    times sensitivity over minutes. Of a closed cover the best first checks together compete with the rest, their
    chances over their minutes and those of opening it. This is Sidney's decomposition for jobs in trees [1]_: it is
    exact as long as a cover is opened once. Equal checks stay in the order in which they came.

    References
    ----------
    .. [1] Sidney, Operations Research 23 (1975) 283-298; Horn, SIAM Journal on Applied Mathematics 23 (1972) 189-202;
       both from memory.

    Examples
    --------
    >>> check_sequence([0.2, 0.5, 0.3], [5.0, 10.0, 20.0]).order.tolist()
    [1, 0, 2]
    """
    chance, cost = _plain(probability, "probability"), _plain(minutes, "minutes")
    finds = np.ones_like(chance) if sensitivity is None else _plain(sensitivity, "sensitivity")
    cover = np.full(chance.shape, -1) if group is None else np.asarray(group, dtype=np.intp)
    opens = np.zeros(0) if group_minutes is None else _plain(group_minutes, "group_minutes")
    _refuse(chance, cost, finds, cover, opens)
    opening = np.append(opens, 0.0)[cover]
    order = best_order(chance * finds, cost, cover, opening)
    return CheckSequence(order, float(expected_minutes(order, chance * finds, cost, cover, opening)))


def best_order(gain: Floats, minutes: Floats, cover: Whole, opening: Floats) -> Whole:
    """Return the best order of many sets of checks at once.

    Parameters
    ----------
    gain
        Chance that a check finds the cause, shape (..., n).
    minutes
        Minutes of each check, shape (..., n).
    cover
        Number of its cover from 0, -1 = none, shape (..., n).
    opening
        Minutes still needed to open that cover, the same for all its checks, 0 without one, shape (..., n).

    Returns
    -------
    ndarray
        Numbers of the checks, the first one first, shape (..., n).
    """
    order, index = _indexed(gain, minutes, cover, opening)
    place = np.broadcast_to(np.arange(gain.shape[-1]), gain.shape)
    # ties between covers keep each cover's checks together
    merged = np.lexsort((place, np.take_along_axis(_first_of(cover), order, -1), -index), axis=-1)
    best: Whole = np.take_along_axis(order, merged, -1)
    return best


def best_first(gain: Floats, minutes: Floats, cover: Whole, opening: Floats) -> Whole:
    """Return the number of the check to begin with, shape (...); arguments as of `best_order`."""
    if not np.any(opening):
        first: Whole = np.argmax(over(gain, minutes), axis=-1)
        return first
    return best_order(gain, minutes, cover, opening)[..., 0]


def minutes_in_order(order: Whole, minutes: Floats, cover: Whole, opening: Floats) -> Floats:
    """Return the minutes of each step, a cover's opening at its first check, shape (..., n)."""
    under = np.take_along_axis(cover, order, -1)
    cost, opens = (np.take_along_axis(each, order, -1) for each in (minutes, opening))
    again = (under[..., :, None] == under[..., None, :]) & (under >= 0)[..., :, None]
    earlier = np.tril(np.ones((order.shape[-1],) * 2, dtype=bool), -1)
    steps: Floats = cost + np.where((again & earlier).any(-1), 0.0, opens)
    return steps


def expected_minutes(order: Whole, gain: Floats, minutes: Floats, cover: Whole, opening: Floats) -> Floats:
    """Return the mean minutes until the cause is found, shape (...); arguments as of `best_order`."""
    steps = minutes_in_order(order, minutes, cover, opening)
    found = np.take_along_axis(gain, order, -1)
    before = np.cumsum(found, axis=-1) - found
    total: Floats = (steps * (1 - before)).sum(axis=-1)
    return total


def value_of_test(probability: Floats, minutes: Floats, positive: Floats, test_minutes: Floats) -> Floats:
    """Return the minutes that one test before all checks saves on average, one step ahead.

    Parameters
    ----------
    probability
        Chance of each cause, shape (..., n); what they lack to 1 is a cause that no check finds.
    minutes
        Minutes of each check, shape (..., n).
    positive
        Chance that the test says yes where this is the cause, shape (..., n); it says no where none is.
    test_minutes
        Minutes of the test, shape (...).

    Returns
    -------
    ndarray
        Below 0 where the test costs more than it saves, shape (...).

    Notes
    -----
    Expected minutes without the test, less those of the test and of the best order after each answer. A test that
    says nothing is worth its own minutes, negative. Without covers.
    """
    none = np.full(probability.shape, -1)
    free = np.zeros(probability.shape)

    def found_in(gain: Floats, weight: Floats) -> Floats:
        order = best_order(gain, minutes, none, free)
        told: Floats = expected_minutes(order, gain, minutes, none, free) - minutes.sum(-1) * (1 - weight)
        return told

    yes, no = probability * positive, probability * (1 - positive)
    said_yes = yes.sum(-1)
    whole = np.ones(said_yes.shape)
    value: Floats = found_in(probability, whole) - found_in(yes, said_yes) - found_in(no, 1 - said_yes) - test_minutes
    return value


def over(gain: Floats, minutes: Floats) -> Floats:
    """Return gain over minutes: infinite for what costs nothing, 0 for what gains nothing."""
    bare = np.where(gain > 0, np.inf, 0.0)
    ratio: Floats = np.divide(gain, minutes, out=bare, where=minutes > 0)
    return ratio


def _indexed(gain: Floats, minutes: Floats, cover: Whole, opening: Floats) -> tuple[Whole, Floats]:
    """Return the checks cover by cover, the best first, and the gain per minute at which each is worth it."""
    under = _first_of(cover)
    order = np.lexsort((-over(gain, minutes), under), axis=-1)
    group = np.take_along_axis(under, order, -1)
    found, cost, opens = (np.take_along_axis(each, order, -1) for each in (gain, minutes, opening))
    begins = np.ones(group.shape, dtype=bool)
    begins[..., 1:] = group[..., 1:] != group[..., :-1]
    start = np.maximum.accumulate(np.where(begins, np.arange(group.shape[-1]), 0), axis=-1)
    so_far = over(_since(found, start), opens + _since(cost, start))
    ahead = so_far.copy()
    for k in range(group.shape[-1] - 2, -1, -1):  # the best that a cover reaches from here on
        same = ~begins[..., k + 1]
        ahead[..., k] = np.where(same, np.maximum(so_far[..., k], ahead[..., k + 1]), so_far[..., k])
    best = np.take_along_axis(ahead, start, -1)
    return order, np.where(ahead >= best, best, over(found, cost))


def _first_of(cover: Whole) -> Whole:
    """Return covers by number; a check without one is a cover of its own."""
    own = cover.shape[-1] + np.arange(cover.shape[-1])
    numbered: Whole = np.where(cover >= 0, cover, own + cover.max(initial=0))
    return numbered


def _since(values: Floats, start: Whole) -> Floats:
    """Return running sums that begin anew at each cover."""
    total = np.cumsum(values, axis=-1)
    before: Floats = total - np.take_along_axis(total - values, start, -1)
    return before


def _plain(values: ArrayLike, name: str) -> Floats:
    array = np.asarray(values, dtype=np.float64)
    if array.ndim != 1 or not np.isfinite(array).all():
        raise ValueError(f"{name} must be a plain list of finite numbers")
    return array


def _refuse(chance: Floats, cost: Floats, finds: Floats, cover: Whole, opens: Floats) -> None:
    if not chance.shape == cost.shape == finds.shape == cover.shape:
        raise ValueError(f"shapes differ: {chance.shape}, {cost.shape}, {finds.shape}, {cover.shape}")
    if (chance < 0).any() or chance.sum() > 1 + 1e-9:
        raise ValueError(f"chances must be 0 or more and at most 1 together, they are {chance.sum():g}")
    if (finds < 0).any() or (finds > 1).any():
        raise ValueError("sensitivity must lie between 0 and 1")
    if (cost < 0).any() or (opens < 0).any():
        raise ValueError("minutes must be 0 or more")
    if (cover >= opens.size).any() or (cover < -1).any():
        raise ValueError(f"a group has no minutes: {opens.size} are stated")
