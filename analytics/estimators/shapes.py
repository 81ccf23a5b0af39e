"""The grid of Weibull shapes that every posterior shares, and where a Weibull law's lives lie beside its median."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LOG_SHAPE: Floats = np.linspace(math.log(0.25), math.log(12.0), 49)
"""Log shapes of the grid: wide enough for early failures (0.25) and for wear-out within a few per cent (12)."""

LOG_SHAPE_STEP = float(LOG_SHAPE[1] - LOG_SHAPE[0])

SHAPE: Floats = np.exp(LOG_SHAPE)

LN2 = math.log(2.0)
LOG_LN2 = math.log(LN2)


def log_life_over_median(p: float, shape: Floats) -> Floats:
    """Return log(life by which a share `p` has failed / median life) for each shape.

    Notes
    -----
    With S(t) = exp(-ln 2 (t / median)^shape): log(t_p / median) = (log(-log(1 - p)) - log(ln 2)) / shape.

    Examples
    --------
    >>> float(log_life_over_median(0.5, np.array([2.0]))[0])
    0.0
    """
    return (math.log(-math.log1p(-p)) - LOG_LN2) / shape


CHARACTERISTIC = -math.expm1(-1.0)
"""Share failed by the Weibull's own life parameter, 63.2 %."""
