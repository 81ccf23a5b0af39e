"""How often a fleet without a hot spot is said to have one, and how often a planted one is found.

Fleets as in `tests.truth.hot_spots`; here few of them, so that the bands are wide. The long run (400 fleets a cell, 999
draws, seed 1) stands in DEVELOPERS.md.
"""

import pytest

from tests.truth.hot_spots import shares, taken_apart

pytestmark = pytest.mark.truth

FLEETS, DRAWS = 30, 199


def test_bursts_of_lines_and_cars_that_come_back_make_few_false_hot_spots():
    # at a true share of 0.05, more than 5 of 30 come about once in 300 runs
    assert shares(FLEETS, 1, 450, DRAWS)[0] <= 5 / FLEETS


def test_lines_taken_as_independent_would_make_false_hot_spots_nearly_always():
    assert taken_apart(6, 1, 450, DRAWS)[0] >= 0.5


def test_a_planted_hot_spot_of_three_times_is_found_in_most_fleets():
    # long run: see DEVELOPERS.md; a wide band for 20 fleets
    assert shares(20, 1, 364, DRAWS, series=1, times=3.0, coming_back=0.0)[2] >= 0.5
