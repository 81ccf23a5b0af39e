"""How finely a mean number of parts is told."""

from __future__ import annotations


def on_average(parts: float) -> float:
    """Round a mean number of parts to two digits, and no finer than a hundredth of a part.

    >>> on_average(27.4), on_average(0.512), on_average(5e-8)
    (27.0, 0.51, 0.0)
    """
    return round(float(f"{parts:.2g}"), 2)
