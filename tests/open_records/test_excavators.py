"""Mining excavators: component and side out of free text cut at 40 characters, five machines, eleven years.

Records: University of Western Australia, CC0 1.0; counts of its README and PROFILE.txt.
"""

import polars as pl
import pytest

from analytics.ledger import load, open_ledger
from analytics.pipeline import analyse
from analytics.records import map_feed, parse_mapping
from tests.conftest import LOADED_ON, MAPPINGS, open_records
from tests.snapshot_tables import table

README = {
    ("engine", "right"): (212, 207, 22, 121),
    ("engine", "left"): (145, 140, 29, 72),
    ("track", "left"): (39, 35, 94, 6),
    ("track", "right"): (38, 34, 104.5, 6),
    ("hydraulic", "left"): (32, 28, 92, 5),
    ("hydraulic", "right"): (31, 27, 97, 8),
}
"""Failures, repeats, median days between, repeats within 30 days: by plain words for sides. Ours read a few more."""

BY_POSITION = [key for key in README if key[0] == "engine"]
"""Of tracks and hydraulics more than 30 in 100 lines name no side: rule 16 shows them for the machine as a whole."""


def repeats(lines):
    """Return failures of a component at one side of a machine on different days, with the days since the last one."""
    place = ["vehicle_id", "component", "position"]
    failed = lines.filter(pl.col("reason") == "failure", pl.col("position").is_not_null())
    days = failed.select(*place, "closed_on").unique().sort(*place, "closed_on")
    return days.with_columns(gap=pl.col("closed_on").diff().dt.total_days().over(place))


def near(told, wanted):
    """Whether a count is that of the readme within what a few sides more make: two, or 3 in 100."""
    return abs(told - wanted) <= max(2, 0.03 * wanted)


@pytest.mark.parametrize("key", README)
def test_repeats_at_one_position_are_those_of_the_readme(excavator_dir, key):
    failures, again, median, soon = README[key]
    found = repeats(table(excavator_dir, "record", component=key[0])).filter(position=key[1])
    gaps = found["gap"].drop_nulls()
    assert near(found.height, failures)
    assert near(gaps.len(), again)
    assert gaps.median() == pytest.approx(median, rel=0.1)
    assert (gaps <= 30).sum() == pytest.approx(soon, rel=0.05, abs=1)


@pytest.mark.parametrize("key", BY_POSITION)
def test_rule_35_the_failure_intervals_tell_them_too(excavator_dir, key):
    failures, _, median, _ = README[key]
    rows = table(excavator_dir, "failure_interval", component=key[0], series="all", position=key[1])
    assert near(rows["events_seen"].item(), failures)
    # the gap since the last failure is open, and counts as such
    assert rows["median_interval_days"].item() == pytest.approx(median, rel=0.1)


def test_rule_16_sides_that_many_lines_leave_out_are_not_shown(excavator_dir):
    rows = table(excavator_dir, "failure_interval", series="all")
    for name in {component for component, _ in README} - {"engine"}:
        assert rows.filter(component=name)["position"].to_list() == ["all"]


def test_of_stick_cylinders_alone_there_are_as_many_as_in_the_readme(tmp_path):
    """16 on either side; the mapping that ships takes a crowd cylinder for one as well."""
    text = (MAPPINGS / "uwa_excavators.toml").read_text(encoding="utf-8")
    assert "(?:STICK|CROWD)" in text
    (tmp_path / "sticks.toml").write_text(text.replace("(?:STICK|CROWD)", "STICK"), encoding="utf-8")
    mapping = parse_mapping(tmp_path / "sticks.toml")
    load(tmp_path / "data", map_feed(open_records("uwa_excavators"), mapping), loaded_on=LOADED_ON)
    with open_ledger(tmp_path / "data", write=False) as connection:
        lines = connection.table("repairs").pl()
    found = repeats(lines.filter(component="stick cyl")).group_by("position").len()
    assert dict(found.iter_rows()) == {"left": pytest.approx(16, abs=2), "right": pytest.approx(16, abs=2)}


def test_every_order_is_in_the_ledger(excavator_dir):
    assert table(excavator_dir, "record").height == 5485


def test_the_one_cylinder_example_gives_its_gaps_out_of_free_text(tmp_path):
    mapping = parse_mapping(MAPPINGS / "uwa_cylinder.toml")
    load(tmp_path, map_feed(open_records("uwa_excavators"), mapping), loaded_on=LOADED_ON)
    analyse(tmp_path)
    lines = table(tmp_path, "record").filter(pl.col("component") == "boom cyl").sort("closed_on")
    assert lines["position"].n_unique() == 1
    gaps = lines["closed_on"].diff().dt.total_days().drop_nulls().to_list()
    assert gaps == [269, 185, 594, 48, 579, 296]


def test_five_machines_are_too_few_for_an_order_of_failures_to_stand_out(excavator_dir):
    pairs = table(excavator_dir, "follow_on")
    tested = pairs.filter(pl.col("p_value").is_not_null())
    assert tested.height > 20
    assert (pairs["n_first_then"] + pairs["n_then_first"]).max() == table(excavator_dir, "vehicle").height == 5
    # one in 32 is the least that five machines can give, and dozens of pairs are looked at
    assert tested["adjusted_p"].min() > 0.05
    assert pairs["n_first_then"].sum() == table(excavator_dir, "follow_on_pair").height
