"""Whether "first in 83 of 100 plausible worlds" comes true, and what an order learned from few jobs costs too much.

600 workshops a cell, seed 3: four causes with chances drawn evenly at random, checks of 2 to 30 minutes, so many closed
jobs of one complaint, nothing to borrow from. Monte Carlo error of a share: 0.02. Measured, of workshops that met two
causes or more: the first check was said to be first in 73, 77, 81 of 100 worlds on average after 5, 20, 100 jobs, and
was first in truth in 0.64, 0.73, 0.80 of them (after 5 jobs the best one is now and then a cause that nobody met yet);
where that was said of at least 90 worlds, in 0.85, 0.97, 0.94. The order cost 11, 3.7 and 0.8 % more
minutes than that of who knows the chances.
"""

import numpy as np
import pytest

from analytics.estimators.sequencing import best_order, expected_minutes
from analytics.parameters import Parameters
from analytics.recurrence.check_order import check_orders
from tests.recurrence.causes import NO_PLACES, causes, facts, job

pytestmark = pytest.mark.truth

WORKSHOPS, CAUSES = 600, 4


def learned(jobs):
    """Chances and minutes in truth, and each workshop's ladder: order of causes, worlds of the first."""
    rng = np.random.default_rng(3)
    chance = rng.dirichlet(np.ones(CAUSES), size=WORKSHOPS)
    minutes = rng.uniform(2, 30, (WORKSHOPS, CAUSES))
    rows, stated = [], {}
    for shop in range(WORKSHOPS):
        ended = rng.choice(CAUSES, size=jobs, p=chance[shop])
        rows += [job(f"shop {shop:03d}", f"{shop:03d}/{cause}") for cause in ended]
        stated |= {f"{shop:03d}/{cause}": minutes[shop, cause] for cause in range(CAUSES)}
    table = check_orders(causes(*rows), facts(stated, ("S2",)), NO_PLACES, [], Parameters())
    return chance, minutes, table.sort("complaint", "step")


@pytest.mark.parametrize(("jobs", "most"), [(5, 0.15), (20, 0.05), (100, 0.015)])
def test_a_check_said_to_be_first_is_first_as_often_as_said(jobs, most):
    chance, minutes, table = learned(jobs)
    truly = np.argmax(chance / minutes, axis=1)
    first = table.filter(table["step"] == 1)
    named = first["component"].str.slice(-1).cast(int).to_numpy()
    said = first["times_best_of_100"].to_numpy() / 100
    right = named == truly
    told = said < 1.0  # a single candidate has no rival in the records
    assert told.sum() > WORKSHOPS / 3
    assert abs(right[told].mean() - said[told].mean()) < (0.05 if jobs > 5 else 0.12)
    assert right[told & (said >= 0.9)].mean() > (0.90 if jobs > 5 else 0.80)
    # checks of causes nobody met yet come last, by their minutes
    order = np.full((WORKSHOPS, CAUSES), -1)
    for shop, rows in enumerate(table.partition_by("complaint", maintain_order=True)):
        met = rows["component"].str.slice(-1).cast(int).to_list()
        order[shop] = [*met, *sorted({*range(CAUSES)} - {*met}, key=lambda cause: minutes[shop, cause])]
    none, free = np.full(chance.shape, -1), np.zeros(chance.shape)
    best = best_order(chance, minutes, none, free)
    spent = [expected_minutes(each, chance, minutes, none, free).mean() for each in (order, best)]
    assert 1.0 <= spent[0] / spent[1] <= 1 + most
