"""An expert's opinion as a prior: what it brings, that it is shown, that data outweigh and can contradict it."""

import math

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_allclose

from analytics.errors import SpellError
from analytics.estimators import life_posterior, survival_posterior
from tests.estimators.cases import spells
from tests.slow_twin.life_law import SHAPES, log_likelihood

NUMBERS = [name + side for name in ("shape", "life", "life10", "life50") for side in ("", "_lower", "_upper")]
SAID = {"first_age": [1500], "first_good": [0.9], "second_age": [3650], "second_good": [0.5], "cars": [5.0]}
OPINION = pl.DataFrame(SAID)
THREE = spells(exit=[1200, 2000, 2500, 3000], event=[1, 0, 1, 0])


def row(frame, prior=OPINION):
    return life_posterior(frame, prior=prior).row(0, named=True)


@pytest.mark.parametrize(
    ("units", "cars"),
    [
        ([(0, 1200, 1, None), (0, 2000, 0, None), (0, 2500, 1, None), (0, 3000, 0, None)], 5.0),
        ([(0, 900, 1, None), (300, 4000, 0, None)], 2.0),
        ([(0, 900, 0, None), (300, 4000, 0, None)], 3.0),
    ],
    ids=["two failures", "one failure", "none failed"],
)
def test_agrees_with_a_dense_grid_where_the_opinion_is_a_few_more_units(units, cars):
    # m units of which 1 in 10 failed by 1500, 4 in 10 between 1500 and 3650, and 5 in 10 were good then
    median = 3650 * np.exp(np.linspace(-6, 6, 1201))[None, :]
    shape = SHAPES[:, None]
    life = median * math.log(2) ** (-1 / shape)
    early, late = np.exp(-((1500 / life) ** shape)), np.exp(-((3650 / life) ** shape))
    told = 0.1 * np.log(1 - early + 1e-300) + 0.4 * np.log(early - late + 1e-300) + 0.5 * np.log(late + 1e-300)
    prior = cars * told - 0.5 * np.log(shape / 1.5) ** 2
    opinion = np.exp(prior - prior.max())
    opinion /= opinion.sum()
    if any(event for _, _, event, _ in units):
        even = np.where(median < 3650, np.exp(-0.5 * np.log(shape / 1.5) ** 2), 0)
        opinion = 0.95 * opinion + 0.05 * even / even.sum()
    else:
        opinion *= (3650 / median) ** shape
    weight = log_likelihood(units, shape, life)
    weight = opinion * np.exp(weight - weight.max())
    entry, leave, event, _ = zip(*units, strict=True)
    found = row(spells(entry=list(entry), exit=list(leave), event=list(event)), OPINION.with_columns(cars=pl.lit(cars)))
    for name, value in {"life50": median, "life10": life * (-math.log(0.9)) ** (1 / shape)}.items():
        values = np.broadcast_to(value, weight.shape).ravel()
        order = np.argsort(values)
        below = np.cumsum(weight.ravel()[order]) / weight.sum()
        points = np.interp((0.05, 0.5, 0.95), below, values[order])
        ours = [found[name + side] for side in ("_lower", "", "_upper")]
        if ours[2] is None:
            assert points[2] > 19 * points[0], name
            ours, points = ours[:2], points[:2]
        assert_allclose(ours, points, rtol=0.06, err_msg=name)


def test_an_opinion_is_shown_as_such_and_fades_as_failures_come():
    rng = np.random.default_rng(3)
    shares, bases = [], set()
    for failures in (0, 2, 8, 40, 300):
        life = 3000 * rng.weibull(2.0, failures)
        found = row(spells(exit=[*life, *[2000.0] * 3], event=[1] * failures + [0] * 3))
        shares.append(found["prior_share"])
        bases.add(found["basis"])
        assert (found["status"] == "mostly opinion") == (found["prior_share"] > 0.5)
    assert bases == {"own and expert"}
    assert shares == sorted(shares, reverse=True)
    assert shares[0] > 0.5 > shares[2]
    assert shares[-1] < 0.02


def test_without_a_failure_an_opinion_gives_numbers_where_there_was_a_bound_only():
    none = spells(exit=[1000] * 3, event=0)
    alone, told = row(none, None), row(none)
    assert (alone["life50"], alone["basis"], alone["status"]) == (None, "bound only", "bound only")
    assert (told["basis"], told["status"]) == ("own and expert", "mostly opinion")
    assert alone["life50_lower"] < told["life50_lower"] < 3650 < told["life50_upper"]
    share = survival_posterior(none, [1500, 3650], prior=OPINION)
    assert set(share["basis"]) == {"own and expert"}
    # the opinion itself says 0.9 and 0.5
    assert_allclose(share["survival"], [0.9, 0.5], atol=0.08)
    assert (share["lower"] < [0.9, 0.5]).all()
    assert (share["upper"] > [0.9, 0.5]).all()


def test_many_failures_contradict_an_opinion_that_is_far_off():
    early = spells(exit=[10.0 * i + 15 for i in range(30)])
    assert_allclose([row(early)[name] for name in NUMBERS], [row(early, None)[name] for name in NUMBERS], rtol=1e-3)
    good = spells(exit=[40_000] * 30 + [30_000 + 500 * i for i in range(30)], event=[0] * 30 + [1] * 30)
    assert row(good)["life50"] == pytest.approx(row(good, None)["life50"], rel=0.15)
    assert row(good)["life50_lower"] > 25_000


def test_no_opinion_counts_for_more_than_five_cars():
    fifty = OPINION.with_columns(cars=pl.lit(50))
    assert row(THREE, fifty) == row(THREE)
    one, five = (row(THREE, OPINION.with_columns(cars=pl.lit(cars))) for cars in (1, 5))
    assert one["prior_share"] < five["prior_share"]


def test_groups_without_an_opinion_keep_their_numbers_and_say_so():
    frame = pl.concat([THREE.with_columns(part=pl.lit(part)) for part in ("belt", "hose", "seal")])
    told = life_posterior(frame, "part", prior=OPINION.with_columns(part=pl.lit("hose")))
    alone = life_posterior(frame, "part")
    assert told["basis"].to_list() == ["own", "own and expert", "own"]
    assert told["prior_share"].is_null().to_list() == [True, False, True]
    others = pl.col("part") != "hose"
    assert told.drop("prior_share").filter(others).equals(alone.filter(others))
    assert_allclose(told.filter(~others).select("life50").item(), row(THREE)["life50"])
    assert "prior_share" not in alone.columns


@pytest.mark.parametrize("factor", [1e-3, 1000.0])
def test_another_unit_of_time_changes_the_times_only(factor):
    scaled = OPINION.with_columns(pl.col("first_age", "second_age") * factor)
    here, there = row(THREE), row(THREE.with_columns(pl.col("entry", "exit") * factor), scaled)
    assert_allclose(there["life50"], here["life50"] * factor, rtol=1e-9)
    assert_allclose([there["shape"], there["prior_share"]], [here["shape"], here["prior_share"]], rtol=1e-9)


@pytest.mark.parametrize("shape", [0.8, 1.5, 3.0])
def test_limits_hold_what_they_state_where_the_expert_is_off_by_a_quarter(shape):
    # 400 fleets of 6 units, fixed seed; the expert errs by 0.25 in log life and log shape; 5 cars
    rng = np.random.default_rng(3)
    life, stop = 1000 * rng.weibull(shape, (400, 6)), rng.uniform(200, 900, (400, 6))
    frame = pl.DataFrame(
        {
            "fleet": np.repeat(np.arange(400), 6),
            "entry": 0.0,
            "exit": np.minimum(life, stop).ravel(),
            "event": (life <= stop).ravel().astype(int),
        }
    )
    about, bend = 1000 * np.exp(rng.normal(0, 0.25, 400)), shape * np.exp(rng.normal(0, 0.25, 400))
    ages = {"first": 400.0, "second": 1200.0}
    said = {f"{which}_good": np.exp(-((age / about) ** bend)) for which, age in ages.items()}
    prior = pl.DataFrame({"fleet": np.arange(400), "first_age": 400.0, "second_age": 1200.0, **said, "cars": 5.0})
    told, alone = life_posterior(frame, "fleet", prior=prior), life_posterior(frame, "fleet")
    truth = 1000 * math.log(2) ** (1 / shape)
    lower = (told["life50_lower"] <= truth).mean()
    both = ((told["life50_lower"] <= truth) & (told["life50_upper"].fill_null(np.inf) >= truth)).mean()
    assert lower >= 0.91, "Monte Carlo error 0.013"
    assert 0.87 <= both <= 1.0
    # and the opinion helps: more lives with an upper limit
    assert told["life50_upper"].null_count() < 0.6 * alone["life50_upper"].null_count()


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"first_good": [0.4]}, "the shares still good do not fall between 1 and 0 in 1 of 1 rows: row 1"),
        ({"first_good": [1.0]}, "do not fall between 1 and 0"),
        ({"second_good": [0.0]}, "do not fall between 1 and 0"),
        ({"second_age": [1500]}, "the ages do not rise from above 0 in 1 of 1 rows: row 1"),
        ({"first_age": [0]}, "the ages do not rise"),
        ({"cars": [0]}, "the opinion is worth no car"),
        ({"cars": [None]}, "cars is null in 1 of 1 rows: row 1"),
        ({"cars": ["many"]}, "column 'cars' holds String, not numbers"),
        ({"first_age": [math.inf]}, "first_age is not finite"),
    ],
)
def test_an_opinion_that_cannot_be_one_is_refused(changed, says):
    with pytest.raises(SpellError, match=says):
        life_posterior(THREE, prior=pl.DataFrame(SAID | changed))


def test_two_opinions_of_a_group_and_one_of_no_group_are_refused():
    with pytest.raises(SpellError, match="a group has two opinions"):
        life_posterior(THREE, prior=pl.concat([OPINION, OPINION]))
    with pytest.raises(SpellError, match="no column cars"):
        life_posterior(THREE, prior=OPINION.drop("cars"))
    kinds = THREE.with_columns(part=pl.lit("belt"))
    with pytest.raises(SpellError, match="about a group without spells in 1 of 1 rows: row 1"):
        life_posterior(kinds, "part", prior=OPINION.with_columns(part=pl.lit("hose")))
    with pytest.raises(SpellError, match="no column part"):
        life_posterior(kinds, "part", prior=OPINION)
