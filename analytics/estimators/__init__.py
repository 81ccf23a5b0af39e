"""Pure numeric functions on frames of spells; no I/O, no database."""

from analytics.estimators.kaplan_meier import kaplan_meier
from analytics.estimators.nelson_aalen import nelson_aalen

__all__ = [
    "kaplan_meier",
    "nelson_aalen",
]
