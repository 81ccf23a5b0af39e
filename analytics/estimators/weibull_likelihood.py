"""Likelihood of a Weibull in shape and log rate, all groups at once; units of known age only.

With ``rate = life**-shape`` a group's log likelihood is

``r (log shape + log rate) + (shape - 1) sum log t - rate W + sum log(1 - exp(-rate D))``,

r exact failures at t, W of `exposure`, and one D = exit**shape - lower**shape per silent fault. It is concave in log
rate, so the rate given the shape is one bracketed root, in closed form (r / W) without silent faults.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analytics.estimators.exposure_curve import exposure_curve
from analytics.estimators.known_units import (
    exposure,
    exposure_slope,
    interval_width,
    log_fails_within,
    log_or_lowest,
    sum_log_failures,
    times_log,
)
from analytics.estimators.life_spells import LARGEST_LOG
from analytics.estimators.searching import last_positive

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.estimators.exposure_curve import ExposureCurve
    from analytics.estimators.life_spells import LifeSpells

    Floats = NDArray[np.float64]

WIDEST_RATE = 80.0
"""The root in log rate is sought at most this far above its lower bound."""


@dataclass(frozen=True, slots=True)
class Sums:
    """What the likelihood needs of the units whatever the shape.

    Attributes
    ----------
    spells
        The units.
    exact, sum_log
        Shape ``(groups, 1)``: exact failures, and the sum of their log times.
    fault_group
        Shape ``(faults,)``, group of each silent fault.
    curve
        Exposure over the shape, for a search; None to sum over the units at each shape.
    """

    spells: LifeSpells
    exact: Floats
    sum_log: Floats
    fault_group: NDArray[np.int64]
    curve: ExposureCurve | None

    def at(self, shape: Floats) -> AtShape:
        """Return the likelihood at shapes ``(groups, k)``."""
        at_risk = exposure(self.spells, shape) if self.curve is None else self.curve.exposure(shape)
        if not self.fault_group.size:
            return AtShape(self, shape, at_risk, np.zeros((0, shape.shape[1])))
        return AtShape(self, shape, at_risk, interval_width(self.spells, shape[self.fault_group]))

    def exposure_slope(self, shape: Floats) -> Floats:
        """Return the derivative of the exposure in shape, ``(groups, k)``."""
        return exposure_slope(self.spells, shape) if self.curve is None else self.curve.slope(shape)


@dataclass(frozen=True, slots=True)
class AtShape:
    """The likelihood at one shape per group and column.

    Attributes
    ----------
    sums
        Sums over the units.
    shape, exposure
        Shape ``(groups, k)``.
    log_width
        Shape ``(faults, k)``: log D of each silent fault.
    """

    sums: Sums
    shape: Floats
    exposure: Floats
    log_width: Floats

    @property
    def spells(self) -> LifeSpells:
        """Return the units."""
        return self.sums.spells

    def log_likelihood(self, log_rate: Floats) -> Floats:
        """Return the log likelihood at log rates, ``(groups, k)``; times are shares of the yardstick."""
        value = self.sums.exact * (np.log(self.shape) + log_rate) + (self.shape - 1) * self.sums.sum_log
        value = value - _rate(log_rate) * self.exposure
        if not self.log_width.size:
            return value
        return value + self._per_group(log_fails_within(self._log_hazard(log_rate)))

    def slope_in_log_rate(self, log_rate: Floats) -> Floats:
        """Return the derivative in log rate, ``(groups, k)``."""
        return self.sums.exact - _rate(log_rate) * self.exposure + self._per_group(_pull(self._log_hazard(log_rate)))

    def slope_in_shape(self, log_rate: Floats) -> Floats:
        """Return the derivative in shape at a fixed log rate, ``(groups, k)``."""
        value = self.sums.exact / self.shape + self.sums.sum_log
        value = value - _rate(log_rate) * self.sums.exposure_slope(self.shape)
        if not self.log_width.size:
            return value
        return value + self._per_group(_pull(self._log_hazard(log_rate)) * self._slope_of_log_width())

    def best_log_rate(self) -> Floats:
        """Return the log rate of highest likelihood, ``(groups, k)``; groups without failure get the lowest."""
        if not self.log_width.size:
            return log_or_lowest(_ratio(self.sums.exact, self.exposure, 0.0))
        failures = self.sums.exact + np.bincount(self.sums.fault_group, minlength=self.spells.groups)[:, None]
        half = self._per_group(0.5 * np.exp(self.log_width))
        low = log_or_lowest(_ratio(failures, self.exposure + half, 0.0))
        high = np.minimum(log_or_lowest(_ratio(failures, self.exposure, np.inf)), low + WIDEST_RATE)
        finite = np.isfinite(low)
        return np.where(finite, last_positive(self.slope_in_log_rate, *_finite(low, high)), -np.inf)

    def _log_hazard(self, log_rate: Floats) -> Floats:
        return log_rate[self.sums.fault_group] + self.log_width

    def _per_group(self, values: Floats) -> Floats:
        out = np.zeros(self.shape.shape)
        np.add.at(out, self.sums.fault_group, values)
        return out

    def _slope_of_log_width(self) -> Floats:
        rows = self.spells.found
        shape = self.shape[self.sums.fault_group]
        log_exit, log_lower = np.log(self.spells.exit[rows])[:, None], log_or_lowest(self.spells.lower[rows])[:, None]
        share = np.exp(shape * (log_lower - log_exit))
        slope: Floats = (log_exit - times_log(share, log_lower)) / (1 - share)
        return slope


def sums_of(spells: LifeSpells) -> Sums:
    """Return the sums that a search over shapes within 0.2 to 25.6 needs."""
    return _sums(spells, exposure_curve(spells))


def at_shape(spells: LifeSpells, shape: Floats) -> AtShape:
    """Return the likelihood at any shapes ``(groups, k)``, for few of them."""
    return _sums(spells, None).at(shape)


def _sums(spells: LifeSpells, curve: ExposureCurve | None) -> Sums:
    exact = spells.count(spells.exact)[:, None].astype(np.float64)
    return Sums(spells, exact, sum_log_failures(spells)[:, None], spells.group[spells.found], curve)


def _pull(log_hazard: Floats) -> Floats:
    """Return h / (exp(h) - 1) from log h: 1 for a narrow interval, 0 for a certain failure."""
    hazard = np.exp(np.clip(log_hazard, -40.0, 6.5))
    return hazard / np.expm1(hazard)


def _ratio(above: Floats, below: Floats, otherwise: float) -> Floats:
    """Return ``above / below``, `otherwise` where `below` is 0."""
    ratio: Floats = np.divide(above, below, out=np.full(below.shape, otherwise), where=below > 0)
    return ratio


def _rate(log_rate: Floats) -> Floats:
    return np.exp(np.minimum(log_rate, LARGEST_LOG))


def _finite(low: Floats, high: Floats) -> tuple[Floats, Floats]:
    return np.where(np.isfinite(low), low, 0.0), np.where(np.isfinite(high), high, 0.0)
