"""Groups follow supersession; looks never join."""

import polars as pl
from hypothesis import given
from hypothesis import strategies as st

from analytics.stock.interchange import interchange_groups


def parts(*rows):
    return pl.DataFrame(
        [(no, by, looks) for no, by, looks in rows],
        schema={"part_no": pl.String, "superseded_by": pl.String, "looks_like": pl.String},
        orient="row",
    )


def live(groups):
    return dict(groups.select("part_no", "live_no").iter_rows())


def test_a_chain_is_ordered_under_its_last_number():
    groups = interchange_groups(parts(("A", "B", None), ("B", "C", None), ("C", None, None), ("X", None, None)))
    assert live(groups) == {"A": "C", "B": "C", "C": "C", "X": "X"}


def test_a_look_alike_never_joins():
    groups = interchange_groups(parts(("A", None, "B"), ("B", None, "A")))
    assert live(groups) == {"A": "A", "B": "B"}


def test_a_successor_without_a_row_of_its_own_is_still_the_live_number():
    assert live(interchange_groups(parts(("A", "B", None)))) == {"A": "B", "B": "B"}


def test_a_circle_is_ordered_under_its_smallest_number_and_told():
    groups = interchange_groups(
        parts(("B", "C", None), ("C", "A", None), ("A", "B", None), ("old", "C", None), ("X", None, None))
    )
    assert live(groups) == {"A": "A", "B": "A", "C": "A", "old": "A", "X": "X"}
    assert groups.filter("in_circle")["part_no"].to_list() == ["A", "B", "C"]


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), max_size=12))
def test_every_number_ends_at_one_that_leads_nowhere_or_closes_a_circle(links):
    rows = {f"P{no}": f"P{by}" for no, by in links}
    groups = interchange_groups(parts(*((no, by, None) for no, by in rows.items())))
    for no, end in live(groups).items():
        walk = [no]
        while (by := rows.get(walk[-1], walk[-1])) not in walk:
            walk.append(by)
        circle = walk[walk.index(by) :]
        assert end == min(circle)


def test_two_numbers_that_name_each_other_serve_for_one_another_and_are_no_circle():
    """Two-way supersession: ordered under the one with a lead time, else under the smaller one."""
    both = parts(("B", "A", None), ("A", "B", None), ("old", "B", None))
    groups = interchange_groups(both)
    assert live(groups) == {"A": "A", "B": "A", "old": "A"}
    assert not groups["in_circle"].any()
    bought = both.with_columns(lead_time_days=pl.Series([9.0, None, None]))
    assert live(interchange_groups(bought)) == {"A": "B", "B": "B", "old": "B"}


def test_one_way_supersession_lends_the_old_number_to_no_one():
    """The new number serves for the old one; the group is ordered under the new one alone."""
    assert live(interchange_groups(parts(("A", "B", None), ("B", None, None)))) == {"A": "B", "B": "B"}


def test_a_number_that_supersedes_itself_is_live_and_no_circle():
    groups = interchange_groups(parts(("A", "A", None), ("B", "A", None)))
    assert live(groups) == {"A": "A", "B": "A"}
    assert not groups["in_circle"].any()


def test_a_long_chain_is_followed_to_its_end():
    rows = [(f"P{n:03d}", f"P{n + 1:03d}", None) for n in range(200)]
    assert set(interchange_groups(parts(*rows))["live_no"]) == {"P200"}
