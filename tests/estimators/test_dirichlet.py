"""Chances of causes: against scipy's Dirichlet and beta laws; what is borrowed; limits that hold."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analytics.estimators.dirichlet import dirichlet_law

OWN = np.array([[4.0, 1.0, 0.0], [0.5, 2.5, 0.0], [0.0, 3.0, 2.0]])
FAMILY = np.array([[0.0, 30.0, 10.0], [1.0, 1.0, 1.0], [0.0, 0.0, 0.0]])


def test_mean_and_limits_are_those_of_the_general_library():
    law = dirichlet_law(OWN, FAMILY, 5.0, 1.0)
    lower, upper = law.limits(0.90)
    for row in range(3):
        alpha = np.append(law.weight[row][law.weight[row] > 0], 1.0)
        mean = stats.dirichlet(alpha).mean()
        known = np.flatnonzero(law.weight[row])
        assert_allclose(law.mean[row, known], mean[:-1], rtol=1e-12)
        marginal = stats.beta(alpha[:-1], alpha.sum() - alpha[:-1])
        assert_allclose(lower[row, known], marginal.ppf(0.05), rtol=1e-9)
        assert_allclose(upper[row, known], marginal.ppf(0.95), rtol=1e-9)


def test_without_an_own_job_the_limits_are_one_sided_and_hold_the_mean():
    own = np.array([[4.0, 1.0, 0.0, 0.0], [0.0, 9.0, 0.0, 0.0]])
    family = np.array([[1.0, 30_000.0, 10_000.0, 3.0], [1.0, 1.0, 0.0, 4000.0]])
    law = dirichlet_law(own, family, 5.0, 1.0)
    lower, upper = law.limits(0.90, own)
    rest = law.weight.sum(axis=1, keepdims=True) + 1.0 - law.weight
    with np.errstate(invalid="ignore"):
        two_sided, one_sided = (stats.beta.ppf(at, law.weight, rest) for at in (0.95, 0.90))
    assert_allclose(upper[own > 0], two_sided[own > 0], rtol=1e-9)
    assert np.all(lower[own > 0] > 0)
    assert np.all(lower[own == 0] == 0)
    assert_allclose(upper[0, 2], one_sided[0, 2], rtol=1e-9)
    # three jobs of 40,000 borrowed: nine tenths of the law lie below its mean by many powers of ten
    assert one_sided[0, 3] < law.mean[0, 3] / 1000
    # so it is taken as if half a job of its own had ended there
    assert_allclose(upper[0, 3], stats.beta.ppf(0.90, 0.5, rest[0, 3]), rtol=1e-9)
    assert np.all((lower <= law.mean) & (law.mean <= upper))
    assert upper[1, 2] == 0  # no such cause


def test_a_family_weighs_at_most_as_much_as_stated_and_never_more_than_it_has():
    law = dirichlet_law(OWN, FAMILY, 5.0, 1.0)
    assert_allclose(law.weight[0], [4.0, 1.0 + 5 * 0.75, 5 * 0.25])
    assert_allclose(law.weight[1], [0.5 + 1, 2.5 + 1, 1.0])  # three jobs, not five
    assert_allclose(law.weight[2], OWN[2])  # nothing to borrow
    assert_allclose(law.mean.sum(axis=1), law.weight.sum(axis=1) / (law.weight.sum(axis=1) + 1))


def test_one_job_alone_is_as_likely_as_not_to_be_that_again():
    assert dirichlet_law(np.array([[1.0]]), np.zeros((1, 1)), 5.0, 1.0).mean[0, 0] == 0.5


def test_draws_follow_the_law_and_depend_on_their_own_key_only():
    law = dirichlet_law(OWN, FAMILY, 5.0, 1.0)
    keys = [("t", str(row)) for row in range(3)]
    drawn = law.draws(20_000, keys)
    assert_allclose(drawn.mean(axis=1), law.mean, atol=0.01)
    lower, upper = law.limits(0.90)
    inside = ((drawn >= lower[:, None]) & (drawn <= upper[:, None])).mean(axis=1)
    assert_allclose(inside[law.weight > 0], 0.90, atol=0.01)
    assert np.all(drawn[0] == law.draws(20_000, keys[:1])[0])
    assert np.all(drawn[2, :, 0] == 0)
    alone = dirichlet_law(OWN[2:], FAMILY[2:], 5.0, 1.0)
    assert np.all(alone.draws(20_000, keys[2:])[0] == drawn[2])


def test_counts_below_nothing_are_refused():
    with pytest.raises(ValueError, match="0 or more"):
        dirichlet_law(np.array([[-1.0]]), np.zeros((1, 1)), 5.0, 1.0)
    with pytest.raises(ValueError, match="same shape"):
        dirichlet_law(np.zeros((1, 2)), np.zeros((1, 1)), 5.0, 1.0)


@pytest.mark.parametrize(("unseen", "least", "most"), [(1e-9, 0.87, 0.93), (1.0, 0.83, 0.93)])
def test_limits_hold_where_the_causes_are_drawn_from_known_chances(unseen, least, most):
    # 1,000 workshops a cell, seed 5; chances drawn anew for each from the family's shares of five jobs; Monte Carlo
    # error of a share of all causes about 0.006. All causes are known here, so room for one that nobody met lowers
    # the chances of few jobs somewhat: measured 0.90 without that room, 0.85 to 0.89 with it
    rng = np.random.default_rng(5)
    for jobs in (1, 5, 40):
        truth = rng.dirichlet([3.0, 1.0, 1.0], size=1000)
        own = np.array([rng.multinomial(jobs, each) for each in truth], dtype=float)
        family = np.broadcast_to(np.array([300.0, 100.0, 100.0]), own.shape)
        lower, upper = dirichlet_law(own, family, 5.0, unseen).limits(0.90)
        held = ((truth >= lower) & (truth <= upper)).mean()
        assert least <= held <= most, (jobs, held)
