"""Two-sided limits of probabilities and of cumulative counts, on scales where they stay in range."""

from __future__ import annotations

from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def check_confidence(confidence: float) -> None:
    """Refuse a confidence outside 0 to 1.

    Raises
    ------
    ValueError
        If `confidence` is not strictly between 0 and 1.
    """
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must be strictly between 0 and 1, got {confidence!r}")


def normal_quantile(confidence: float) -> float:
    """Return z so that a standard normal lies within plus or minus z with this confidence.

    Examples
    --------
    >>> round(normal_quantile(0.95), 4)
    1.96
    """
    check_confidence(confidence)
    return NormalDist().inv_cdf((1 + confidence) / 2)


def plain_limits(value: Floats, half_width: Floats) -> tuple[Floats, Floats]:
    """Return ``value -+ half_width``, cut at 0 and 1."""
    return np.clip(value - half_width, 0, 1), np.clip(value + half_width, 0, 1)


def log_limits(value: Floats, half_width: Floats) -> tuple[Floats, Floats]:
    """Return ``value * exp(-+half_width / value)``: above 0, not cut above; NaN where `value` is 0."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        ratio = half_width / value
        return value * np.exp(-ratio), value * np.exp(ratio)


def log_log_limits(value: Floats, half_width: Floats) -> tuple[Floats, Floats]:
    """Return limits of a probability on the log(-log) scale; NaN where `value` is 0 or 1."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        log = np.log(value)
        growth = np.abs(value * log)
        np.exp(np.divide(half_width, growth, out=growth), out=growth)
        lower = log * growth
        np.divide(log, growth, out=growth)
        return np.exp(lower, out=lower), np.exp(growth, out=growth)
