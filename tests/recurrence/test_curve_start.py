"""Rule 32: a curve starts at, and is conditional on, the first time with five at risk after the last gap."""

import polars as pl
from hypothesis import given
from hypothesis import strategies as st

from analytics.recurrence.curve_start import curve_starts


def spells(*rows):
    return pl.DataFrame(
        [("g", *row) for row in rows],
        schema={"g": pl.String, "entry": pl.Int64, "exit": pl.Int64, "event": pl.Int64},
        orient="row",
    )


def start(rows, least=5):
    found = curve_starts(spells(*rows), ["g"], least)
    return found["start"].to_list()[0] if found.height else None


def test_rule_32_five_fitted_new_start_at_zero():
    assert start([(0, 10 + n, 1) for n in range(5)]) == 0


def test_rule_32_a_curve_waits_for_five_at_risk():
    assert start([(0, 100, 0), (0, 100, 1), (10, 100, 0), (20, 90, 1), (30, 80, 1), (40, 70, 1)]) == 30


def test_rule_32_after_everyone_at_risk_failed_it_starts_again():
    early = [(0, 5, 1), (0, 5, 1)]
    late = [(20 + n, 100 + n, 1) for n in range(6)]
    assert start(early + late) == 24


def test_rule_32_everyone_failing_at_once_is_a_gap_even_if_others_enter_that_day():
    early = [(0, 20, 1)] * 6
    late = [(20, 50 + n, 1) for n in range(5)]
    assert start(early + late) == 20


def test_rule_32_fewer_than_five_give_no_curve():
    assert start([(0, 10, 1)] * 4) is None


def test_rule_32_stragglers_beyond_a_late_gap_end_the_curve_and_do_not_take_it_away():
    many = [(0, 10 + n, 1) for n in range(6)]
    found = curve_starts(spells(*many, (40, 50, 1), (40, 60, 0)), ["g"], 5)
    assert found.select("start", "end").rows() == [(0, 15)]


def by_hand(rows, least):
    """Walk through the times one by one."""
    times = sorted({t for entry, exit_, _ in rows for t in (entry, exit_)})
    gaps = []
    for t in times[:-1]:
        before = [r for r in rows if r[0] < t <= r[1]]
        failing = sum(r[2] for r in before if r[1] == t)
        if not any(r[0] <= t < r[1] for r in rows) or (failing and failing == len(before)):
            gaps.append(t)
    enough = [t for t in times if sum(r[0] <= t < r[1] for r in rows) >= least]
    last_gap = max((g for g in gaps if enough and g <= enough[-1]), default=times[0])
    return next((t for t in enough if t >= last_gap), None)


@given(
    st.lists(
        st.tuples(st.integers(0, 12), st.integers(1, 12), st.integers(0, 1)).map(lambda r: (r[0], r[0] + r[1], r[2])),
        min_size=1,
        max_size=14,
    ),
    st.integers(1, 4),
)
def test_rule_32_agrees_with_a_walk_through_the_times(rows, least):
    assert start(rows, least) == by_hand(rows, least)
