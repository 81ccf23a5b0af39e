"""Pure numeric functions on frames of spells; no I/O, no database."""

from analytics.estimators.chance import by_chance
from analytics.estimators.cumulative_incidence import cumulative_incidence
from analytics.estimators.fails_again import fails_again_within
from analytics.estimators.fails_within import fails_within
from analytics.estimators.family import fit_family
from analytics.estimators.goodness_of_fit import goodness_of_fit
from analytics.estimators.kaplan_meier import kaplan_meier
from analytics.estimators.life_laws import LifeLaws
from analytics.estimators.life_models import forecast_laws, life_models, models_and_laws
from analytics.estimators.life_quantile import life_quantile
from analytics.estimators.life_ratio import life_ratios
from analytics.estimators.log_rank import log_rank
from analytics.estimators.mean_cumulative import mean_cumulative_function
from analytics.estimators.multiple_testing import adjust_p_values
from analytics.estimators.nelson_aalen import nelson_aalen
from analytics.estimators.order_symmetry import order_symmetry
from analytics.estimators.posterior import life_posterior, survival_posterior
from analytics.estimators.power_law import fit_power_law
from analytics.estimators.rates import proportion, rate, rate_ratio, standardised_ratio
from analytics.estimators.replacement_age import replacement_age
from analytics.estimators.residual import fit_weibull_residual
from analytics.estimators.restricted_mean import restricted_mean
from analytics.estimators.scale_choice import choose_scale
from analytics.estimators.shrunken import shrunken_ratio
from analytics.estimators.trend import laplace_trend, military_handbook_trend
from analytics.estimators.weibull import fit_weibull

__all__ = [
    "LifeLaws",
    "adjust_p_values",
    "by_chance",
    "choose_scale",
    "cumulative_incidence",
    "fails_again_within",
    "fails_within",
    "fit_family",
    "fit_power_law",
    "fit_weibull",
    "fit_weibull_residual",
    "forecast_laws",
    "goodness_of_fit",
    "kaplan_meier",
    "laplace_trend",
    "life_models",
    "life_posterior",
    "life_quantile",
    "life_ratios",
    "log_rank",
    "mean_cumulative_function",
    "military_handbook_trend",
    "models_and_laws",
    "nelson_aalen",
    "order_symmetry",
    "proportion",
    "rate",
    "rate_ratio",
    "replacement_age",
    "restricted_mean",
    "shrunken_ratio",
    "standardised_ratio",
    "survival_posterior",
]
