"""Groups handed over in blocks, and codes of groups that need no sorting, leave every figure as it was."""

import numpy as np
import polars as pl
import pytest
from polars.testing import assert_frame_equal

from analytics.estimators import group_blocks, kaplan_meier
from analytics.estimators.spells_in import group_codes
from tests.estimators.cases import spells

RNG = np.random.default_rng(3)
GROUP = RNG.integers(-4, 9, 500)
FRAME = spells(
    entry=(START := RNG.integers(0, 50, 500)).tolist(),
    exit=(START + RNG.integers(1, 50, 500)).tolist(),
    event=RNG.integers(0, 2, 500).tolist(),
    kind=GROUP.tolist(),
)


@pytest.mark.parametrize("start", [None, 60, 200])
@pytest.mark.parametrize("most", [1, 90])
def test_curves_do_not_depend_on_the_blocks(monkeypatch, most, start):
    whole = kaplan_meier(FRAME, "kind", start=start)
    monkeypatch.setattr(group_blocks, "SPELLS_PER_BLOCK", most)
    assert_frame_equal(kaplan_meier(FRAME, "kind", start=start), whole, check_exact=True)


@pytest.mark.parametrize("kind", [pl.Int8, pl.Int32, pl.Int64])
@pytest.mark.parametrize("apart", [1, 9])
def test_close_whole_numbers_get_the_codes_of_the_sorted_levels(kind, apart):
    levels, code = group_codes(pl.DataFrame({"kind": pl.Series(GROUP * apart, dtype=kind)}), ["kind"])
    assert_frame_equal(levels, pl.DataFrame({"kind": pl.Series(np.unique(GROUP) * apart, dtype=kind)}))
    assert levels["kind"].gather(code).to_list() == (GROUP * apart).tolist()
