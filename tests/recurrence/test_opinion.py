"""An expert's opinion stands beside the records, is weighed with them, and touches nothing else."""

import math

import polars as pl
import pytest

from analytics.estimators import life_posterior
from analytics.parameters import Parameters
from analytics.recurrence.opinion import opinions_beside
from analytics.scales import DAYS_PER_YEAR

OPINION = {"first_years": 10.0, "first_good": 9.0, "second_years": 20.0, "second_good": 6.0, "cars": 3.0, "source": "a"}
COUNTS = ("failures", "units")


def opinions(*rows):
    return pl.DataFrame([{"component": "coil", **OPINION, **row} for row in rows])


def spells(component="coil", failed=2, units=30):
    """Units watched for 8 years each; the first few fail at 5, 6, ... years."""
    ends = [(5 + each) * 365 if each < failed else 8 * 365 for each in range(units)]
    return pl.DataFrame(
        {
            "component": component,
            "scale": "age",
            "entry": 0,
            "exit": ends,
            "event": [int(each < failed) for each in range(units)],
        }
    )


def beside(*rows, of=None):
    found, left_out = opinions_beside(opinions(*rows), spells() if of is None else of, Parameters())
    return found, left_out


def test_the_records_alone_are_what_the_posterior_tells_without_an_opinion():
    row = beside({})[0].row(0, named=True)
    alone = life_posterior(spells(), "component").row(0, named=True)
    told = life_posterior(
        spells(),
        "component",
        prior=pl.DataFrame(
            {
                "component": ["coil"],
                "first_age": [10 * DAYS_PER_YEAR],
                "first_good": [0.9],
                "second_age": [20 * DAYS_PER_YEAR],
                "second_good": [0.6],
                "cars": [3.0],
            }
        ),
    ).row(0, named=True)
    assert [row[name] for name in COUNTS] == [alone[name] for name in COUNTS] == [2, 30]
    assert [row[f"records_{name}"] for name in ("life50", "life50_lower", "life50_upper")] == [
        alone[name] for name in ("life50", "life50_lower", "life50_upper")
    ]
    assert [row[name] for name in ("life50", "life50_lower", "life50_upper", "status")] == [
        told[name] for name in ("life50", "life50_lower", "life50_upper", "status")
    ]
    assert row["opinion_share"] == told["prior_share"]


def test_the_opinions_own_median_is_that_of_the_weibull_law_through_both_points():
    # S(t) = exp(-(t / life) ** shape) at 10 and 20 years, solved by hand
    shape = math.log(math.log(0.6) / math.log(0.9)) / math.log(2)
    life = 10 * (-math.log(0.9)) ** (-1 / shape)
    assert beside({})[0]["opinion_life50"].item() == pytest.approx(
        life * math.log(2) ** (1 / shape) * DAYS_PER_YEAR, rel=1e-12
    )


def test_every_component_keeps_its_own_opinion():
    of = pl.concat([spells("hose"), spells("coil"), spells("belt")])
    said = ({"component": "hose", "second_good": 4.0}, {"component": "belt", "second_good": 2.0}, {})
    together = beside(*said, of=of)[0]
    apart = pl.concat([beside(each, of=of)[0] for each in said]).sort("component")
    assert together.select("component", "opinion_life50").equals(apart.select("component", "opinion_life50"))
    assert together["opinion_life50"].n_unique() == 3


def test_the_more_the_records_tell_the_less_is_opinion():
    few, many = (beside({}, of=spells(failed=failed, units=200))[0]["opinion_share"].item() for failed in (1, 60))
    assert 0 <= many < few <= 1


def test_an_opinion_counts_for_five_cars_at_most():
    five, fifty = (beside({"cars": cars})[0].drop("cars") for cars in (5.0, 50.0))
    assert five.equals(fifty)
    assert five["cars_counted"].item() == 5.0


def test_an_opinion_of_what_was_never_watched_and_a_second_one_are_told():
    found, left_out = beside({}, {"first_good": 9.5}, {"component": "unheard of"})
    assert found["component"].to_list() == ["coil"]
    assert dict(left_out.select("kind", "count").rows()) == {
        "opinion of a component that was never watched": 1,
        "second opinion of one component": 1,
    }
    nothing, none_left = opinions_beside(opinions({}).clear(), spells(), Parameters())
    assert nothing.is_empty()
    assert none_left.is_empty()
