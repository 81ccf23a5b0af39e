"""Whether units wear by age or by distance: one law on each scale, and on mixtures of the two, of the same failures."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators.grid_between import along
from analytics.estimators.law_summary import words
from analytics.estimators.result_frame import result_frame, shown
from analytics.estimators.two_scales import TwoScales, two_scales
from analytics.estimators.weibull_likelihood import sums_of
from analytics.estimators.weibull_limits import LOG_SHAPES, drop, profile
from analytics.parameters import Parameters

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analytics.estimators.life_spells import LifeSpells

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

RETURNED = (
    *("units", "failures", "units_without", "failures_without", "rate_spread"),
    *("log_likelihood_age", "log_likelihood_distance", "theta", "lower", "upper", "verdict", "status"),
)

THETAS: Floats = np.linspace(0.0, 1.0, 11)
"""Mixtures tried: 0 is age alone, 1 distance alone."""

FINE: Floats = np.linspace(0.0, 1.0, 201)
"""Between them the likelihood is a cubic; limits are read off these points."""

EVERY = 4
AROUND = 9
"""The shape is sought at every fourth point of its bracket, then at so many points around the best."""

AGE, DISTANCE, UNTOLD = "age", "distance", "cannot be told"


@dataclass(frozen=True, slots=True)
class Mixture:
    """What the failures of each group say about the mixture; each of shape ``(groups,)``.

    Attributes
    ----------
    age, distance
        Log likelihood of the age law and of the distance law, per day of age.
    theta, lower, upper
        Most likely share of distance, and the limits of its likelihood ratio.
    """

    age: Floats
    distance: Floats
    theta: Floats
    lower: Floats
    upper: Floats


def choose_scale(
    spells: pl.DataFrame, by: str | Sequence[str] = (), *, parameters: Parameters | None = None
) -> pl.DataFrame:
    r"""Say whether the units of each group wear by age, by distance, or whether that cannot be told.

    Parameters
    ----------
    spells
        A row per unit of known age, watched on both scales: `age_entry`, `age_exit` (days), `distance_entry`,
        `distance_exit` (km; null where not known), `event`, and `slope`, km a day driven around a failure. Optional:
        `age_exit_lower` and `distance_exit_lower`, a silent fault lies between these and the exits.
    by
        Grouping columns.
    parameters
        `scale_failures`, `scale_rate_spread`, `distance_refusal_points`, and `confidence` of the limits. None = the
        defaults.

    Returns
    -------
    DataFrame
        A row per group: the columns of `by`, `units` and `failures` with km, `units_without` and `failures_without`
        km, `rate_spread` (standard deviation of the log km a day, weighted by days watched),
        `log_likelihood_age`, `log_likelihood_distance`, `theta` with `lower` and `upper`, `verdict` (``age``,
        ``distance``, ``cannot be told``) and `status`: ``ok``; ``no km``; ``km missing unevenly`` (failed units lack
        them more, or less, often than others that like them were watched from their fitting on, or late);
        ``too few failures``; ``used alike`` (the spread is too small). All but ``ok`` leave the likelihoods and
        `theta` null.

    Raises
    ------
    SpellError
        If rows break the contract of spells on either scale; the message names them.

    Notes
    -----
    A Weibull law is fitted in :math:`u = t^{1-\theta} D^\theta`, t the unit's age and D its distance, for each
    :math:`\theta` from 0 to 1. An exact failure contributes :math:`\log f(u) + \log (du/dt)` with
    :math:`du/dt = u\,((1 - \theta)/t + \theta s / D)` and s the slope, so that all laws tell the density of the same
    event, a failure on that day of age; a silent fault contributes a probability, which needs no such term. A
    constant factor of D drops out. The verdict is ``age`` where the limits of theta lie below a half, ``distance``
    where they lie above.

    References
    ----------
    .. [1] Duchesne and Lawless (2000), Alternative time scales and failure time models, Lifetime Data Analysis 6.

    Examples
    --------
    >>> age = [100 * (k % 4 + 8) for k in range(24)]
    >>> km = [t * (5 + k) for k, t in enumerate(age)]
    >>> both = {"age_entry": [0] * 24, "age_exit": age, "distance_entry": [0] * 24, "distance_exit": km}
    >>> frame = pl.DataFrame({**both, "event": [1] * 24, "slope": [d / t for d, t in zip(km, age)]})
    >>> choose_scale(frame).select("failures", "theta", "verdict").row(0)
    (24, 0.0, 'age')
    """
    parameters = parameters or Parameters()
    rows = two_scales(spells, by, returned=RETURNED, where="choose_scale(spells)")
    spread = _spread(rows)
    status = _status(rows, spread, parameters)
    good = status == "ok"
    found = _mixture(rows, drop(parameters.confidence))
    verdict = np.where(found.upper < 0.5, AGE, np.where(found.lower > 0.5, DISTANCE, UNTOLD))
    columns = {
        "units": pl.Series(rows.count()),
        "failures": pl.Series(rows.count(rows.failed)),
        "units_without": pl.Series(rows.units_without),
        "failures_without": pl.Series(rows.failures_without),
        "rate_spread": shown(spread),
        "log_likelihood_age": shown(found.age, good),
        "log_likelihood_distance": shown(found.distance, good),
        "theta": shown(found.theta, good),
        "lower": shown(found.lower, good),
        "upper": shown(found.upper, good),
        "verdict": words(np.where(good, verdict, UNTOLD)),
        "status": words(status),
    }
    return result_frame(rows.levels, None, columns)


def _spread(rows: TwoScales) -> Floats:
    """Return the spread of log km a day over the units, weighted by the days each was watched; NaN without a unit."""
    days = rows.age.exit - rows.age.entry
    log_rate = np.log((rows.distance.exit - rows.distance.entry) / days)
    weight = rows.per_group(days)
    with np.errstate(invalid="ignore"):
        centre = rows.per_group(days * log_rate) / weight
        return np.asarray(np.sqrt(rows.per_group(days * (log_rate - centre[rows.group]) ** 2) / weight))


def _status(rows: TwoScales, spread: Floats, parameters: Parameters) -> NDArray[np.str_]:
    units, failures = rows.count(), rows.count(rows.failed)
    uneven = np.abs(rows.uneven_points) > parameters.distance_refusal_points
    status = np.where(spread >= parameters.scale_rate_spread, "ok", "used alike")
    status = np.where(failures < parameters.scale_failures, "too few failures", status)
    status = np.where(uneven, "km missing unevenly", status)
    return np.where(units > 0, status, "no km")


def _mixture(rows: TwoScales, allowed: float) -> Mixture:
    """Return likelihoods, the most likely mixture and the limits within which the likelihood falls by `allowed`."""
    tried = np.stack([_highest(rows.mixed(theta)) + rows.log_slope(theta) for theta in THETAS], axis=1)
    fine = along(tried, FINE[None, :] * (THETAS.size - 1))
    best = fine.max(axis=1, keepdims=True)
    inside = fine >= best - allowed
    first, last = inside.argmax(axis=1), FINE.size - 1 - inside[:, ::-1].argmax(axis=1)
    return Mixture(tried[:, 0], tried[:, -1], FINE[fine.argmax(axis=1)], FINE[first], FINE[last])


def _highest(spells: LifeSpells) -> Floats:
    """Return the highest log likelihood of a Weibull law, per unit of the spells' own times, ``(groups,)``."""
    coarse, sums = LOG_SHAPES[::EVERY], sums_of(spells)
    best = profile(sums, np.broadcast_to(coarse, (spells.groups, coarse.size))).argmax(axis=1)
    step = coarse[1] - coarse[0]
    centre = np.clip(coarse[best], coarse[0] + step, coarse[-1] - step)
    value = profile(sums, centre[:, None] + np.linspace(-step, step, AROUND))
    return _vertex(value) - spells.count(spells.exact) * np.log(spells.yardstick)


def _vertex(value: Floats) -> Floats:
    """Return the height of the parabola through the highest point of each row and its neighbours."""
    place = np.clip(value.argmax(axis=1), 1, value.shape[1] - 2)
    rows = np.arange(value.shape[0])
    left, middle, right = (value[rows, place + step] for step in (-1, 0, 1))
    bend = np.maximum(2 * middle - left - right, math.ulp(1.0))
    top = np.where(middle >= np.maximum(left, right), middle + (right - left) ** 2 / (8 * bend), value.max(axis=1))
    return np.asarray(top, dtype=np.float64)
