"""Groups follow supersession; looks never join."""

import polars as pl
import pytest

from analytics.errors import FeedError
from analytics.stock.interchange import interchange_groups


def parts(*rows):
    return pl.DataFrame(
        [(no, by, looks) for no, by, looks in rows],
        schema={"part_no": pl.String, "superseded_by": pl.String, "looks_like": pl.String},
        orient="row",
    )


def test_a_chain_is_ordered_under_its_last_number():
    groups = interchange_groups(parts(("A", "B", None), ("B", "C", None), ("C", None, None), ("X", None, None)))
    assert dict(groups.iter_rows()) == {"A": "C", "B": "C", "C": "C", "X": "X"}


def test_a_look_alike_never_joins():
    groups = interchange_groups(parts(("A", None, "B"), ("B", None, "A")))
    assert dict(groups.iter_rows()) == {"A": "A", "B": "B"}


def test_a_successor_without_a_row_of_its_own_is_still_the_live_number():
    assert dict(interchange_groups(parts(("A", "B", None))).iter_rows()) == {"A": "B", "B": "B"}


def test_a_circle_is_refused_with_its_numbers():
    with pytest.raises(FeedError, match="circle: A, B"):
        interchange_groups(parts(("A", "B", None), ("B", "A", None)))


def test_a_long_chain_is_followed_to_its_end():
    rows = [(f"P{n:03d}", f"P{n + 1:03d}", None) for n in range(200)]
    assert set(interchange_groups(parts(*rows))["live_no"]) == {"P200"}
