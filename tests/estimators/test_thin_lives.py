"""Life laws of thin and strange groups: a status, never an exception, NaN or infinity."""

import numpy as np
import polars as pl
import pytest

from analytics.estimators import (
    fit_weibull,
    fit_weibull_residual,
    goodness_of_fit,
    life_posterior,
    life_quantile,
    survival_posterior,
)
from tests.estimators.cases import spells

GROUPS = {
    "none failed": spells(exit=[3, 4], event=[0, 0]),
    "one failed": spells(exit=[3, 4], event=[0, 1]),
    "all at one time": spells(exit=[7] * 5),
    "all at one time, 100 running": spells(exit=[7] * 105, event=[1] * 5 + [0] * 100),
    "twelve orders of magnitude": spells(exit=[1e-3, 1.0, 1e4, 1e9], event=[1, 1, 0, 1]),
    "thousandths": spells(exit=[1e-3, 2e-3, 3e-3]),
    "very late entry": spells(entry=[1e9 - 2, 1e9 - 1, 5.0], exit=[1e9 - 1, 1e9, 6.0], event=[1, 1, 0]),
    "silent, never seen good": spells(exit=[3, 4, 5], exit_lower=[0, 0, 0]),
    "silent, seen good": spells(exit=[3, 4, 5], exit_lower=[0, 2, 4]),
    "one silent": spells(exit=[3, 4, 5], event=[1, 0, 0], exit_lower=[1, None, None]),
    "one unit, one day": spells(exit=[1]),
    "unknown ages only": spells(exit=[900, 2000], event=[1, 0], age_known=[False, False], vehicle_age=[9000, None]),
    "joined on the day it was built": spells(exit=[900, 10], event=[1, 1], age_known=[False, True], vehicle_age=0),
    "five units seen late and briefly": spells(
        entry=[13_467, 13_760, 12_011, 7_798, 7_928], exit=[13_500, 13_800, 12_100, 7_900, 8_000], event=[1, 0, 0, 0, 0]
    ),
}
ESTIMATORS = {
    "fit_weibull": fit_weibull,
    "fit_weibull, shape given": lambda frame: fit_weibull(frame, shape=1.5),
    "fit_weibull_residual": fit_weibull_residual,
    "life_quantile": lambda frame: life_quantile(frame, 0.1),
    "life_posterior": life_posterior,
    "survival_posterior": lambda frame: survival_posterior(frame, [1, 1000]),
    "goodness_of_fit": goodness_of_fit,
}
STATUS = {"ok", "bound only", "upper open", "no finite estimate", "too few", "not complete"}


@pytest.mark.parametrize("group", GROUPS)
@pytest.mark.parametrize("estimator", ESTIMATORS)
def test_every_number_is_finite_or_null(group, estimator):
    result = ESTIMATORS[estimator](GROUPS[group])
    assert result.height in (1, 2)
    for column in result.select(pl.selectors.float()):
        assert np.isfinite(column.drop_nulls().to_numpy()).all(), column.name
    if "status" in result.columns:
        assert set(result["status"]) <= STATUS


@pytest.mark.parametrize("estimator", ESTIMATORS)
def test_no_spell_gives_no_number(estimator):
    empty = spells(exit=[3]).clear()
    result = ESTIMATORS[estimator](empty)
    assert set(result["status"] if "status" in result.columns else []) <= {"too few"}
    numbers = result.select(pl.selectors.float().exclude("p", "shape", "time"))
    assert all(column.null_count() == column.len() for column in numbers)


@pytest.mark.parametrize(
    ("group", "status"),
    [
        ("none failed", "too few"),
        ("one failed", "too few"),
        ("all at one time", "no finite estimate"),
        ("all at one time, 100 running", "no finite estimate"),
        ("twelve orders of magnitude", "no finite estimate"),
        ("silent, never seen good", "no finite estimate"),
        ("thousandths", "ok"),
        ("silent, seen good", "ok"),
    ],
)
def test_a_fit_that_is_not_there_says_why(group, status):
    fit = fit_weibull(GROUPS[group]).row(0, named=True)
    assert fit["status"] == status
    assert (fit["life"] is None) == (status != "ok")


@pytest.mark.parametrize(("events", "status"), [(0, "bound only"), (1, "ok"), (5, "ok")])
def test_a_given_shape_needs_no_failure(events, status):
    # life_lower = (2 W / chi-square)^(1 / shape); without failure -log(0.05) = 2.996 stands for half of it
    frame = spells(exit=[10.0] * 8, event=[1] * events + [0] * (8 - events))
    fit = fit_weibull(frame, shape=2.0, confidence=0.9).row(0, named=True)
    assert fit["status"] == status
    assert (fit["life"] is None) == (events == 0)
    if events == 0:
        assert fit["life_lower"] == pytest.approx((800 / -np.log(0.05)) ** 0.5)
        assert fit["life_upper"] is None


def test_a_shape_of_nothing_is_refused():
    with pytest.raises(ValueError, match="shape must be above 0"):
        fit_weibull(GROUPS["one failed"], shape=0.0)
    with pytest.raises(ValueError, match=r"within 0\.25 to 12"):
        fit_weibull_residual(GROUPS["one failed"], shape=20.0)
    with pytest.raises(ValueError, match="strictly between 0 and 1"):
        life_quantile(GROUPS["one failed"], 1.0)
    with pytest.raises(ValueError, match="above 0"):
        survival_posterior(GROUPS["one failed"], [0])
