"""How often a difference between two levels is claimed where there is none, and how often its limits hold.

300 fleets per cell, seed 1, watched as in the other truth simulations (cars join 8 to 35 years after they were built
and stay 3 to 9); shapes 0.8, 1.8 and 3.5; expected failures of the two levels as stated. Monte Carlo error of a share:
0.013 at 0.05, 0.017 at 0.10 and 0.90. The p-value is twice a posterior chance; false differences at 5 % were 0.000 to
0.062, at 10 % 0.010 to 0.135 (the highest at shape 0.8 with 6 failures a side and seven ages in ten unknown), at 1 %
at most 0.013. Limits of a ratio of 1 held in 0.865 to 0.990, of a ratio of 2 in 0.880 to 0.970.
"""

import math

import numpy as np
import polars as pl
import pytest

from analytics.estimators import adjust_p_values, life_ratios, models_and_laws
from analytics.parameters import Parameters
from tests.truth.fleets import fleets

pytestmark = pytest.mark.truth

FLEETS, LIFE, YEARS_WATCHED = 300, 10.0, 6.0


def ratios(shape, expected, ratio=1.0, known_share=1.0):
    """Level b lasts `ratio` times as long as level a; a row per fleet."""
    rng = np.random.default_rng(1)
    parts = []
    for level, failures in enumerate(expected):
        life = LIFE * ratio**level
        cars = max(1, round(failures * life * math.gamma(1 + 1 / shape) / YEARS_WATCHED))
        units = fleets(rng, FLEETS, cars, shape, life, known_share=known_share)
        parts.append(units.with_columns(level=pl.lit(level)))
    laws = models_and_laws(pl.concat(parts), ["level", "fleet"], ages=pl.DataFrame({"time": [5]}))[2]
    rows = laws.levels.with_row_index("row")
    first, second = (rows.filter(pl.col("level") == level)["row"].to_numpy().astype(np.int64) for level in (0, 1))
    assert first.size == second.size == FLEETS
    return life_ratios(laws, first, second, Parameters()).filter(pl.col("status") != "too few")


def held(found, ratio):
    lower, upper = found["lower"].fill_null(0.0), found["upper"].fill_null(1e30)
    return ((lower <= ratio) & (upper >= ratio)).mean()


@pytest.mark.parametrize("known_share", [1.0, 0.3])
@pytest.mark.parametrize("expected", [(6, 6), (15, 15), (20, 3), (60, 40)])
@pytest.mark.parametrize("shape", [0.8, 1.8, 3.5])
def test_where_there_is_no_difference_few_are_claimed(shape, expected, known_share):
    found = ratios(shape, expected, known_share=known_share)
    assert found.height >= 0.8 * FLEETS
    for stated, most in ((0.10, 0.15), (0.05, 0.08), (0.01, 0.03), (0.001, 0.01)):
        assert (found["p_value"] < stated).mean() <= most, stated
    assert held(found, 1.0) >= 0.85


@pytest.mark.parametrize(("expected", "known_share"), [((15, 10), 1.0), ((30, 15), 0.3), ((20, 2), 1.0)])
@pytest.mark.parametrize("shape", [0.8, 1.8, 3.5])
def test_limits_of_a_ratio_of_two_hold(shape, expected, known_share):
    found = ratios(shape, expected, 2.0, known_share)
    assert held(found, 2.0) >= 0.85
    if min(expected) >= 10:
        assert abs(found["life_ratio"].log().median() - math.log(2.0)) < 0.1


def test_a_true_difference_is_found():
    # the power that can be had: 15 and 10 failures of worn parts, life doubled
    assert (ratios(3.5, (15, 10), 2.0)["p_value"] < 0.05).mean() > 0.85
    assert (ratios(1.8, (15, 10), 2.0)["p_value"] < 0.05).mean() > 0.45


def test_adjusted_over_twelve_comparisons_without_a_difference_a_false_finding_is_rare():
    p = ratios(1.8, (15, 15))["p_value"].to_numpy()
    analyses = p[: p.size // 12 * 12].reshape(-1, 12)
    any_found = [(adjust_p_values(row)["adjusted_p"] < 0.05).any() for row in analyses]
    raw = (analyses < 0.05).any(axis=1).mean()
    assert np.mean(any_found) <= 0.16, "25 analyses: five per cent are expected"
    assert raw > np.mean(any_found)
