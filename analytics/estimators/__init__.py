"""Pure numeric functions on frames of spells; no I/O, no database."""

from analytics.estimators.kaplan_meier import kaplan_meier
from analytics.estimators.life_quantile import life_quantile
from analytics.estimators.mean_cumulative import mean_cumulative_function
from analytics.estimators.multiple_testing import adjust_p_values
from analytics.estimators.nelson_aalen import nelson_aalen
from analytics.estimators.rates import proportion, rate, rate_ratio, standardised_ratio
from analytics.estimators.shrunken import shrunken_ratio
from analytics.estimators.weibull import fit_weibull

__all__ = [
    "adjust_p_values",
    "fit_weibull",
    "kaplan_meier",
    "life_quantile",
    "mean_cumulative_function",
    "nelson_aalen",
    "proportion",
    "rate",
    "rate_ratio",
    "shrunken_ratio",
    "standardised_ratio",
]
