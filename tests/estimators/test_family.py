"""Pooling of a family: against a plain loop over every population, and what it must not depend on."""

import itertools
import math

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_allclose

from analytics.estimators import fit_family
from analytics.estimators.pooling import (
    CENTRES_OF_SHAPE,
    SPREADS_OF_LIFE,
    SPREADS_OF_SHAPE,
    family_lives,
    pooled_log_weight,
)
from analytics.estimators.shapes import LOG_SHAPE
from analytics.parameters import Parameters
from tests.estimators.cases import spells

HOSES = pl.concat(
    [
        spells(exit=[*failures, *[2000.0] * 9], event=[1] * len(failures) + [0] * 9).with_columns(hose=pl.lit(name))
        for name, failures in {"a": [], "b": [900.0, 1700.0], "c": [1200.0], "d": [800.0, 1000.0, 1900.0]}.items()
    ]
)
NUMBERS = [name + side for name in ("shape", "life", "life10", "life50") for side in ("", "_lower", "_upper")]


def likelihood(failures, running, longest):
    """Log likelihood of units failed at `failures` and running at `longest`, on the family's grid, by plain sums."""
    out = np.empty((LOG_SHAPE.size, family_lives().size))
    for (row, shape), (column, median) in itertools.product(
        enumerate(np.exp(LOG_SHAPE)), enumerate(longest * np.exp(family_lives()))
    ):
        life = median * math.log(2) ** (-1 / shape)
        out[row, column] = sum(math.log(shape / life) + (shape - 1) * math.log(t / life) for t in failures)
        out[row, column] -= sum((t / life) ** shape for t in [*failures, *[longest] * running])
    return out


def student(points, centre, spread):
    density = (1 + ((points - centre) / spread) ** 2 / 2) ** -1.5
    return density / density.sum()


def test_agrees_with_a_loop_over_every_population():
    members = [np.exp(ll - ll.max()) for ll in (likelihood(f, 9, 2000.0) for f in ([], [900.0, 1700.0], [1200.0]))]
    lives = family_lives()
    posterior, total = [np.zeros_like(members[0]) for _ in members], 0.0
    for centre, spread in itertools.product(CENTRES_OF_SHAPE, SPREADS_OF_SHAPE):
        of_shape = student(LOG_SHAPE, centre, spread)
        for middle, width in itertools.product(lives[::3], SPREADS_OF_LIFE):
            prior = of_shape[:, None] * student(lives, middle, width)
            evidence = [(member * prior).sum() for member in members]
            weight = math.prod(evidence) * math.exp(
                -0.5 * ((centre - math.log(1.5)) ** 2 + (spread / 0.3) ** 2 + (width / 0.5) ** 2)
            )
            total += weight
            for place, member in enumerate(members):
                posterior[place] += weight * member * prior / evidence[place]
    pooled = np.exp(pooled_log_weight(np.log(np.maximum(np.array(members), 1e-250)), Parameters()))
    for ours, loop in zip(pooled, posterior, strict=True):
        assert_allclose(ours / ours.sum(), loop / total, atol=1e-12)


def test_members_without_failure_have_numbers_too_and_order_does_not_matter():
    pooled = fit_family(HOSES, "hose")
    assert pooled.filter(hose="a").select(pl.col("life50").is_not_null()).item()
    assert (pooled["status"] == "ok").all()
    turned = fit_family(HOSES[::-1].with_columns(hose=pl.col("hose").replace({"a": "z"})), "hose")
    turned = turned.with_columns(hose=pl.col("hose").replace({"z": "a"})).sort("hose")
    assert_allclose(pooled.select(NUMBERS).to_numpy(), turned.select(NUMBERS).to_numpy(), rtol=1e-9)


def test_another_family_beside_it_changes_nothing():
    alone = fit_family(HOSES, "hose")
    two = pl.concat(
        [HOSES.with_columns(kind=pl.lit("hose")), HOSES.with_columns(pl.col("exit") / 9, kind=pl.lit("belt"))]
    )
    both = fit_family(two, "hose", by="kind")
    assert_allclose(both.filter(kind="hose").select(NUMBERS).to_numpy(), alone.select(NUMBERS).to_numpy(), rtol=1e-12)
    assert both["family_members"].to_list() == [4] * 8


def test_pooled_limits_are_narrower_than_the_members_own():
    pooled = fit_family(HOSES, "hose").filter(hose="c").row(0, named=True)
    assert pooled["life50_upper"] / pooled["life50_lower"] < 12
    assert pooled["life50_lower"] < pooled["life50"] < pooled["life50_upper"]


@pytest.mark.parametrize("members", [["a", "b", "c"], ["a", "b"]])
def test_a_family_of_three_is_too_small(members):
    pooled = fit_family(HOSES.filter(pl.col("hose").is_in(members)), "hose")
    assert set(pooled["status"]) == {"too few"}
    assert pooled["life50"].null_count() == len(members)


def test_a_member_far_from_the_rest_is_flagged():
    odd = spells(exit=[20.0, 22.0, 25.0, 26.0, 40.0], event=[1, 1, 1, 1, 0]).with_columns(hose=pl.lit("odd"))
    status = dict(fit_family(pl.concat([HOSES, odd]), "hose").select("hose", "status").iter_rows())
    assert status["odd"] == "unlike family"
    assert status["b"] == "ok"
