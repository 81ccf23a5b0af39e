"""Which law a group is given: its own, its family's or a bound (rule 34), and what a forecast draws from."""

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_allclose

from analytics.errors import SpellError
from analytics.estimators import fit_family, forecast_laws, life_models, life_posterior, survival_posterior
from analytics.estimators.shapes import SHAPE
from analytics.parameters import Parameters
from tests.estimators.cases import spells

BY = ["component", "grouping", "level", "scale"]
FAILED_AT = {
    "pump a": [],
    "pump b": [1100],
    "pump c": [900, 1500],
    "pump d": [1200, 1700],
    "pump e": [1000, 1400, 1800],
    "pump f": [800, 1000, 1500, 1600, 1900],
    "pump odd": [1, 1, 2, 2],
    "horn": [700, 1100],
    "bell": [],
}
RUNNING = {"pump b": 3, "pump odd": 2}


def part(name, failures):
    """A component with some failures and units still running after 2,000 days; pumps are one family."""
    running, still = RUNNING.get(name, 14), 3 if name == "pump odd" else 2000
    rows = spells(exit=[*failures, *[still] * running], event=[1] * len(failures) + [0] * running)
    return rows.with_columns(
        component=pl.lit(name),
        grouping=pl.lit("component"),
        level=pl.lit("all"),
        scale=pl.lit("age"),
        family=pl.lit("pumps" if name.startswith("pump") else None, dtype=pl.String),
    )


FLEET = pl.concat([part(name, failures) for name, failures in FAILED_AT.items()])
MODELS, SURVIVAL = life_models(FLEET, BY, "family")
LIFE = {row["component"]: row for row in MODELS.iter_rows(named=True)}


def test_rule_34_the_basis_follows_from_the_failures():
    basis = {name: row["basis"] for name, row in LIFE.items()}
    assert basis == {
        "pump a": "bound only",
        "pump b": "family",
        "pump c": "family",
        "pump d": "family",
        "pump e": "family",
        "pump f": "own",
        "pump odd": "own",
        "horn": "own",
        "bell": "bound only",
    }
    assert LIFE["pump odd"]["status"] == "unlike family"
    assert {LIFE[name]["status"] for name in ("pump a", "bell")} == {"bound only"}
    assert (LIFE["pump c"]["family"], LIFE["pump c"]["family_members"]) == ("pumps", 7)
    assert LIFE["pump c"]["family_failures"] == sum(len(v) for k, v in FAILED_AT.items() if k.startswith("pump"))
    assert LIFE["horn"]["family"] is LIFE["pump f"]["family"] is LIFE["pump f"]["family_members"] is None


def test_rule_34_a_life_known_to_a_factor_above_twenty_has_no_upper_limit():
    own = life_posterior(part("horn", FAILED_AT["horn"])).row(0, named=True)
    assert own["status"] == LIFE["horn"]["status"] == "upper open"
    assert own["life10_upper"] is None
    assert own["life10_lower"] is not None
    wide = life_posterior(part("horn", FAILED_AT["horn"]), parameters=Parameters(upper_open_ratio=1e9)).row(
        0, named=True
    )
    assert wide["status"] == "ok"
    assert wide["life10_upper"] > 20 * wide["life10_lower"]
    for row in MODELS.iter_rows(named=True):
        for life in ("life", "life10", "life50"):
            if row[life + "_upper"] is not None:
                assert row[life + "_lower"] <= row[life] <= row[life + "_upper"] <= 20 * row[life + "_lower"]


def test_rule_34_numbers_are_those_of_the_basis():
    own, pooled = life_posterior(FLEET, BY), fit_family(FLEET.filter(family="pumps"), "component")
    for name, source in (("pump f", own), ("horn", own), ("bell", own), ("pump b", pooled)):
        row = source.filter(component=name).row(0, named=True)
        for column in ("shape", "life10", "life10_lower", "life50", "life50_upper"):
            if row[column] is None:
                assert LIFE[name][column] is None, (name, column)
            else:
                assert LIFE[name][column] == pytest.approx(row[column], rel=1e-9), (name, column)
    assert LIFE["pump b"]["life50_upper"] is not None
    assert own.filter(component="pump b")["life50_upper"][0] is None


@pytest.mark.parametrize("changed", [{"family_members": 8}, {"family_failed": 7}])
def test_rule_34_a_family_too_thin_lends_nothing(changed):
    models, _ = life_models(FLEET, BY, "family", parameters=Parameters(**changed))
    assert set(models["basis"]) == {"own", "bound only"}
    assert "unlike family" not in models["status"].to_list()


def test_a_family_reaches_neither_across_scales_nor_groupings():
    other = FLEET.with_columns(scale=pl.lit("distance"), exit=pl.col("exit") * 7)
    models, survival = life_models(pl.concat([FLEET, other]), BY, "family")
    age = models.filter(scale="age")
    assert age.drop("scale").equals(MODELS.drop("scale"), null_equal=True)
    ratio = models.filter(scale="distance")["life50_lower"] / age["life50_lower"]
    assert_allclose(ratio, 7, rtol=1e-6)
    assert set(survival.filter(scale="distance")["time"]) == {5000, 10000}


def test_survival_is_asked_at_round_ages_within_what_was_seen():
    assert set(SURVIVAL.filter(component="horn")["time"]) == {365, 730, 1096, 1461, 1826}
    assert SURVIVAL.filter(component="pump odd")["time"].to_list() == [365]
    horn = survival_posterior(part("horn", FAILED_AT["horn"]), [365, 1826])
    both = SURVIVAL.filter(component="horn").filter(pl.col("time").is_in([365, 1826]))
    assert_allclose(both.select("survival", "lower", "upper"), horn.select("survival", "lower", "upper"), rtol=1e-9)
    bell = SURVIVAL.filter(component="bell")
    assert bell["survival"].null_count() == bell["upper"].null_count() == bell.height
    assert (bell["lower"] > 0).all()
    asked = life_models(FLEET, BY, ages=pl.DataFrame({"scale": ["age", "distance"], "time": [100, 9]}))[1]
    assert (asked.height, set(asked["time"])) == (len(FAILED_AT), {100})


def test_units_are_counted_once_though_a_lay_up_cuts_their_watching():
    cut = spells(entry=[0, 500, 0], exit=[400, 900, 700], event=[0, 1, 0]).with_columns(
        vehicle_id=pl.Series(["v1", "v1", "v2"]),
        component=pl.lit("pump"),
        position=pl.lit("only"),
        unit_no=pl.lit(1),
    )
    models, _ = life_models(cut, "component")
    assert models.select("units", "failures", "unit_time").row(0) == (2, 1, 1500.0)


def test_a_group_of_two_families_is_refused():
    with pytest.raises(SpellError, match="more than one family"):
        life_models(pl.concat([FLEET, FLEET.with_columns(family=pl.lit("horns"))]), BY, "family")


def test_rule_7_a_new_component_moves_no_other_draw():
    laws = forecast_laws(FLEET, BY, "family")
    fewer = forecast_laws(FLEET.filter(pl.col("component") != "bell"), BY, "family")
    assert laws.draws(50, "seed").filter(pl.col("component") != "bell").equals(fewer.draws(50, "seed"))
    assert not laws.draws(50, "seed").equals(laws.draws(50, "other seed"))


def test_draws_and_heaviest_laws_stand_for_the_posterior():
    laws = forecast_laws(FLEET, BY, "family")
    drawn = laws.draws(1000, "seed").with_columns(life50=pl.col("life") * np.log(2) ** (1 / pl.col("shape")))
    for name in ("pump b", "pump f", "horn"):
        median = drawn.filter(component=name)["life50"].median()
        assert median == pytest.approx(LIFE[name]["life50"], rel=0.06)
    heavy = laws.heaviest(12)
    assert heavy.height == 12 * len(FAILED_AT)
    assert_allclose(heavy.group_by("component").agg(pl.col("weight").sum())["weight"], 1)
    assert (heavy.filter(component="pump f")["shape"] > 1).all()


def test_a_forecast_takes_no_bound_but_the_family_or_half_a_failure():
    laws = forecast_laws(FLEET, BY, "family")
    pooled = fit_family(FLEET.filter(family="pumps"), "component").filter(component="pump a")["life50"][0]
    drawn = laws.draws(2000, "seed")
    median = drawn.filter(component="pump a").select(pl.col("life") * np.log(2) ** (1 / pl.col("shape"))).to_series()
    assert median.median() == pytest.approx(pooled, rel=0.1)
    row = laws.levels["component"].to_list().index("bell")
    shape = int(np.abs(SHAPE - 1.5).argmin())
    weight = laws.weight[row, shape] / laws.weight[row, shape].sum()
    rate = np.log(2) * np.exp(-SHAPE[shape] * (laws.log_life50[row] + np.log(laws.yardstick[row])))
    expected = weight @ (14 * 2000 ** SHAPE[shape] * rate)
    assert expected == pytest.approx(0.5, rel=0.02)
