"""Rule 33: which groupings are written, and which one pages and forecasts use; curves of known ages only."""

import numpy as np
import polars as pl
import pytest

from analytics.parameters import Parameters
from analytics.recurrence.lives import grouped_spells, lives, survival_curves


def spells(
    variant, n, failed, *, component="hose", series="S1", position="only", known=True, scale="age", told_by="fitting"
):
    """Return n spells of one variant, the first `failed` of them failed, with spread exits."""
    exits = 400 + 37 * np.arange(n)
    return pl.DataFrame(
        {
            "component": component,
            "position": position,
            "series": series,
            "variant": variant,
            "variant_told_by": "nobody" if variant == "unknown" else told_by,
            "part_origin": "new",
            "started_by": "replaced",
            "scale": scale,
            "entry": np.zeros(n, dtype=np.int64),
            "exit": exits,
            "exit_lower": pl.Series([None] * n, dtype=pl.Int64),
            "event": (np.arange(n) < failed).astype(np.int64),
            "age_known": known,
            "vehicle_age": pl.Series([9000] * n, dtype=pl.Int64),
            "vehicle_id": [f"{variant}{k}" for k in range(n)],
        }
    )


def facts(**families):
    return pl.DataFrame(
        {"component": list(families), "family": list(families.values()), "safety_critical": [False] * len(families)},
        schema={"component": pl.String, "family": pl.String, "safety_critical": pl.Boolean},
    )


def seen(frame):
    return frame.group_by("component").agg(events_seen=pl.col("event").sum(), events_used=pl.col("event").sum())


def models(*frames):
    frame = pl.concat(frames)
    return lives(frame, facts(hose="hoses"), seen(frame), Parameters()).models


def default_rows(table):
    return sorted(table.filter("default_grouping").select("grouping", "level").rows())


def test_rule_33_variants_lead_where_they_have_five_failures_and_half_the_units_are_known():
    table = models(spells("old", 12, 6), spells("new", 12, 7))
    assert default_rows(table) == [("variant", "new"), ("variant", "old")]


def test_rule_33_fewer_than_five_failures_leave_the_component_in_front():
    assert default_rows(models(spells("old", 12, 4), spells("new", 12, 3))) == [("component", "all")]


def test_rule_33_mostly_unknown_variants_leave_the_component_in_front():
    assert default_rows(models(spells("old", 10, 6), spells("unknown", 11, 5))) == [("component", "all")]


def test_rule_33_exactly_half_known_is_enough():
    assert default_rows(models(spells("old", 10, 6), spells("unknown", 10, 5))) == [("variant", "old")]


def test_rule_33_a_variant_told_only_when_taken_out_counts_as_unknown():
    table = models(spells("old", 12, 6), spells("new", 12, 12, told_by="taking out"))
    levels = table.filter(pl.col("grouping") == "variant")["level"].sort().to_list()
    assert levels == ["old", "unknown"]


def test_rule_33_every_grouping_is_written_and_single_levels_are_not_repeated():
    frame = pl.concat([spells("old", 6, 3, position="left"), spells("new", 6, 3, position="right")])
    assert set(grouped_spells(frame)["grouping"]) == {"component", "variant", "series", "position"}


def test_rule_27_a_curve_takes_units_of_known_age_only():
    unknown = spells("old", 30, 30, known=False).with_columns(exit=pl.lit(50, dtype=pl.Int64))
    grouped = grouped_spells(pl.concat([spells("old", 12, 6), unknown]))
    curve = survival_curves(grouped, Parameters()).filter(pl.col("grouping") == "component")
    assert curve["time"].min() == 400
    assert curve["at_risk"].max() == 12


def test_rule_32_the_curve_is_conditional_on_lasting_to_its_start():
    late = spells("old", 12, 6).with_columns(entry=pl.lit(300, dtype=pl.Int64))
    early = spells("old", 2, 2).with_columns(exit=pl.lit(100, dtype=pl.Int64))
    curve = survival_curves(grouped_spells(pl.concat([late, early])), Parameters())
    assert set(curve["given_lasted_to"]) == {300}
    assert curve["survival"].max() == pytest.approx(11 / 12)


def test_nothing_watched_gives_no_row_and_no_error():
    frame = spells("old", 1, 0).clear()
    result = lives(frame, facts(hose="hoses"), seen(frame), Parameters())
    assert result.models.is_empty()


def test_a_series_called_all_leaves_the_component_as_it_was():
    frame, named = spells("old", 12, 6), spells("old", 12, 6, series="all")
    whole, same = (models(each).filter(pl.col("grouping") == "component") for each in (frame, named))
    assert whole.equals(same)
    assert whole.height == 1
