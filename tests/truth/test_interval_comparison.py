"""Two series, or positions, that fail alike are told apart as often as stated; limits of a ratio hold.

Rates differ between cars (gamma, shape 1) and grow with age; series B joins ten years younger and is watched for
longer. Here 150 fleets a cell, seed 1: Monte Carlo error 0.018 at 0.05, 0.024 at 0.90. The long run (1,000 fleets)
stands in DEVELOPERS.md.
"""

import pytest

from tests.truth.interval_fleets import compared, held, two_positions, two_series

pytestmark = pytest.mark.truth

FLEETS = 150


@pytest.mark.parametrize(("make", "grouping"), [(two_series, "series"), (two_positions, "position")])
def test_where_both_fail_alike_p_values_are_even_and_limits_hold(make, grouping):
    found = compared(*make(FLEETS, 1), grouping)
    assert found.height >= 0.95 * FLEETS
    for stated, error in ((0.05, 0.018), (0.10, 0.024), (0.50, 0.041)):
        assert abs((found["p_value"] < stated).mean() - stated) <= 3 * error
    assert held(found, 1.0) >= 0.82


@pytest.mark.parametrize(("make", "grouping"), [(two_series, "series"), (two_positions, "position")])
def test_a_ratio_of_two_is_found_within_its_limits(make, grouping):
    found = compared(*make(FLEETS, 2, times=2.0), grouping)
    assert held(found, 2.0) >= 0.82
    assert 1.7 < found["rate_ratio"].median() < 2.3
