"""Groups handed over in blocks, and codes of groups that need no sorting, leave every figure as it was."""

import numpy as np
import polars as pl
import pytest
from polars.testing import assert_frame_equal

from analytics.estimators import group_blocks, kaplan_meier
from analytics.estimators import spells_in as spells_in_module
from analytics.estimators.group_blocks import by_blocks
from analytics.estimators.spells_in import group_codes, spells_in
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
@pytest.mark.parametrize(("most", "stretch"), [(1, 10**6), (90, 7), (90, 500)])
def test_curves_do_not_depend_on_the_blocks_nor_on_the_order_of_the_rows(monkeypatch, most, stretch, start):
    whole = kaplan_meier(FRAME, "kind", start=start)
    monkeypatch.setattr(group_blocks, "SPELLS_PER_BLOCK", most)
    monkeypatch.setattr(group_blocks, "ROWS_PER_STRETCH", stretch)
    for rows in (FRAME, FRAME.sort("kind"), FRAME.sort("kind", descending=True)):
        assert_frame_equal(kaplan_meier(rows, "kind", start=start), whole, check_exact=True)


def test_curves_of_more_blocks_than_a_byte_counts_are_the_same(monkeypatch):
    many = FRAME.with_columns(kind=pl.int_range(pl.len()) * 7 % 300)
    whole = kaplan_meier(many, "kind")
    monkeypatch.setattr(group_blocks, "SPELLS_PER_BLOCK", 1)
    assert_frame_equal(kaplan_meier(many, "kind"), whole, check_exact=True)


def test_each_block_has_the_rows_of_its_groups_in_their_order(monkeypatch):
    monkeypatch.setattr(group_blocks, "SPELLS_PER_BLOCK", 60)
    monkeypatch.setattr(group_blocks, "ROWS_PER_STRETCH", 64)
    seen = by_blocks(
        spells_in(FRAME, "kind"),
        lambda part: pl.DataFrame({"kind": part.levels["kind"].gather(part.group), "exit": part.exit}),
    )
    assert len(seen) > 3
    for name, rows in FRAME.select("kind", "exit").group_by("kind"):
        assert pl.concat(seen).filter(pl.col("kind") == name[0])["exit"].to_list() == rows["exit"].to_list()


@pytest.mark.parametrize("kind", [pl.Int8, pl.Int32, pl.Int64])
@pytest.mark.parametrize("apart", [1, 9])
@pytest.mark.parametrize("added", [0, 4])
def test_close_whole_numbers_get_the_codes_of_the_sorted_levels(monkeypatch, kind, apart, added):
    monkeypatch.setattr(spells_in_module, "ROWS_PER_STRETCH", 100)
    group = (GROUP + added) * apart
    levels, code = group_codes(pl.DataFrame({"kind": pl.Series(group, dtype=kind)}), ["kind"])
    assert_frame_equal(levels, pl.DataFrame({"kind": pl.Series(np.unique(group), dtype=kind)}))
    assert levels["kind"].gather(code).to_list() == group.tolist()
