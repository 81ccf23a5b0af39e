"""The median life once per choice: which rows there are, and that each is the fit of its own spells."""

import numpy as np
import polars as pl
import pytest

from analytics.estimators import life_models
from analytics.parameters import Parameters
from analytics.recurrence.sensitivity import life_sensitivity
from analytics.spells.other_endings import ENDINGS


def units(count, life, seed, **columns):
    rng = np.random.default_rng(seed)
    fails, watched = life * rng.weibull(2.0, count), rng.uniform(500, 4000, count)
    given = {"component": "hose", "age_known": True, **columns}
    return pl.DataFrame(
        {
            "vehicle_id": [f"V{n}" for n in range(count)],
            "position": "all",
            "unit_no": 1,
            "entry": 0,
            "exit": np.ceil(np.minimum(fails, watched)).astype(int),
            "exit_lower": pl.Series([None] * count, dtype=pl.Int64),
            "event": (fails <= watched).astype(int),
            "vehicle_age": pl.Series([None] * count, dtype=pl.Int64),
            **{name: pl.Series([value] * count) for name, value in given.items()},
        }
    )


FACTS = pl.DataFrame({"component": ["hose"], "family": ["rubber"]})
BY_AGE = units(200, 3000, 1, scale="age")
UNKNOWN = units(100, 3000, 2, scale="age", age_known=False)
BY_KM = units(150, 40_000, 3, scale="distance")
OTHER = pl.concat([units(200, 3000 * times, 4, ending=e) for e, times in zip(ENDINGS, (0.8, 1.0, 1.5), strict=True)])


SPELLS = pl.concat([BY_AGE, UNKNOWN, BY_KM])


@pytest.fixture(scope="module")
def models():
    grouped = SPELLS.with_columns(grouping=pl.lit("component"), level=pl.lit("all")).join(FACTS, on="component")
    return life_models(grouped, by=["component", "grouping", "level", "scale"], family="family")[0]


@pytest.fixture(scope="module")
def rows(models):
    return life_sensitivity(models, SPELLS, OTHER, FACTS, Parameters())


def test_there_is_a_row_per_choice(rows):
    assert rows["choice"].to_list() == sorted(["as shown", *ENDINGS, "known age only", "by distance"])
    assert rows.filter(pl.col("choice") == "by distance")["scale"].to_list() == ["distance"]


@pytest.mark.parametrize(
    ("choice", "spells"),
    [
        ("as shown", pl.concat([BY_AGE, UNKNOWN])),
        ("known age only", BY_AGE),
        ("by distance", BY_KM),
        ("last visit", OTHER.filter(pl.col("ending") == "last visit")),
    ],
)
def test_each_row_is_the_fit_of_its_own_spells(rows, choice, spells):
    alone, _ = life_models(spells, by="component")
    columns = ["failures", "units", "life50", "life50_lower", "life50_upper", "basis", "status"]
    assert rows.filter(pl.col("choice") == choice).select(columns).equals(alone.select(columns))


def test_a_choice_is_told_as_a_multiple_of_the_life_shown(rows):
    life = dict(rows.select("choice", "life50").rows())
    times = dict(rows.select("choice", "times_shown").rows())
    assert times["as shown"] == 1.0
    assert times["day of analysis"] == pytest.approx(life["day of analysis"] / life["as shown"])
    assert times["by distance"] is None


def test_no_spells_give_no_rows(models):
    assert life_sensitivity(models.head(0), BY_AGE.head(0), OTHER.head(0), FACTS, Parameters()).is_empty()
