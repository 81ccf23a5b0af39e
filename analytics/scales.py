"""The two scales of wear, age in days and distance in km, and their units."""

from __future__ import annotations

from typing import Literal

Scale = Literal["age", "distance"]

DAYS_PER_YEAR = 365.25
AGE_BAND_DAYS = 3652
"""Cars of like age are those of one band, ten years wide."""
KM_PER_MILE = 1.609344
"""Exact since the international yard of 1959 (1 yard = 0.9144 m, 1 mile = 1760 yards)."""


def miles_to_km(miles: float) -> float:
    """Convert international miles to kilometres.

    Parameters
    ----------
    miles
        Distance in international miles.

    Returns
    -------
    float
        Distance in kilometres, exact to double precision.

    References
    ----------
    .. [1] International yard and pound agreement (1959): 1 yard = 0.9144 m.

    Examples
    --------
    >>> miles_to_km(1.0)
    1.609344
    """
    return miles * KM_PER_MILE


def odometer_limit(digits: int) -> int:
    """Return the first total that a mechanical odometer of so many digits cannot show.

    Parameters
    ----------
    digits
        Number of whole-unit drums, at least 1.

    Returns
    -------
    int
        ``10 ** digits``, in the odometer's own unit.

    Raises
    ------
    ValueError
        If `digits` is less than 1.

    Examples
    --------
    >>> odometer_limit(5)
    100000
    """
    if digits < 1:
        raise ValueError(f"an odometer has at least one digit, got {digits!r}")
    return int(10**digits)
