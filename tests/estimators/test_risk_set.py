"""Who is at risk at each failure time, whichever way the keys are laid out."""

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.estimators import risk_set as module
from analytics.estimators.risk_set import risk_set
from analytics.estimators.spells_in import spells_in

SPELL = st.tuples(st.integers(0, 3), st.integers(0, 12), st.integers(1, 8), st.integers(0, 2))


def counted(rows):
    """By definition: for each group and failure time, spells with entry < time <= exit, and failures."""
    times = sorted({(group, entry + stay) for group, entry, stay, events in rows if events})
    return [
        (
            group,
            time,
            sum(g == group and entry < time <= entry + stay for g, entry, stay, _ in rows),
            sum(events for g, entry, stay, events in rows if (g, entry + stay) == (group, time)),
        )
        for group, time in times
    ]


def frame(rows, scale):
    data = [(group, entry * scale, (entry + stay) * scale, events) for group, entry, stay, events in rows]
    kind = pl.Int64 if isinstance(scale, int) else pl.Float64
    schema = {"group": pl.Int64, "entry": kind, "exit": kind, "event": pl.Int64}
    return pl.DataFrame(data, schema=schema, orient="row")


@pytest.mark.parametrize("scale", [1, 1_000_003, 10**15, 0.25])
@given(rows=st.lists(SPELL, max_size=25))
def test_close_times_far_times_and_fractions_give_the_counts_of_the_definition(scale, rows):
    checked = spells_in(frame(rows, scale), "group", most_events=None)
    found = risk_set(checked)
    group = checked.levels["group"].gather(found.group).to_list() if rows else []
    told = list(zip(group, (found.time / scale).tolist(), found.at_risk.tolist(), found.events.tolist(), strict=True))
    assert told == counted(rows)


@given(rows=st.lists(SPELL, min_size=1, max_size=25))
def test_a_table_of_keys_and_packed_keys_agree_in_every_row(rows):
    checked = spells_in(frame(rows, 1), "group", most_events=None)
    found = []
    for cells in (10**6, 0):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(module, "CELLS_PER_SPELL", cells)
            found.append(risk_set(checked))
    for name in ("group", "place", "time", "at_risk", "events", "row_time", "row_entry"):
        assert getattr(found[0], name).tolist() == getattr(found[1], name).tolist()
