"""Components that fail evenly are seldom said to go better or worse; a yearly change is found within its limits.

Closed records as in `tests.truth.trend_fleets`; here 20 components of 40 cars a cell, seed 3, so that the bands are
wide. The long run (400 components a cell) stands in DEVELOPERS.md.
"""

import pytest
from scipy import stats

from tests.truth.trend_fleets import COMPONENTS, World, summary, told

pytestmark = pytest.mark.truth


def test_rule_35_where_failures_come_evenly_few_trends_are_told():
    """Cars differ, parts wear and are renewed, some repairs come back, some faults wait for an inspection."""
    found = summary(told(World(wear=2.0, returning=0.1, silent=0.3, cars=40), 1, 3), 1.0)
    # passed by chance once in 1,000 runs, at a true share of 0.05 and of 0.90
    assert found["p < 0.05"] <= stats.binom.ppf(0.999, COMPONENTS, 0.05) / COMPONENTS
    assert found["held"] >= stats.binom.ppf(0.001, COMPONENTS, 0.90) / COMPONENTS
    assert found["said"] == 0


def test_a_yearly_change_is_found_and_lies_within_its_limits():
    found = summary(told(World(growth=1.25, cars=40), 1, 3), 1.25)
    assert 1.18 < found["change"] < 1.32
    assert found["held"] >= stats.binom.ppf(0.001, COMPONENTS, 0.90) / COMPONENTS
    assert found["said"] > 0.5
