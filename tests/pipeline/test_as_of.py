"""Rule 6 through the whole way: what is dated later changes no table of an earlier day, to the last bit."""

import csv
from datetime import date

import polars as pl
import pytest

from analytics.ledger import load
from analytics.pipeline import analyse
from analytics.records import map_feed
from analytics.snapshot import TABLES
from tests.conftest import LOADED_ON
from tests.snapshot_tables import table

DAY = "2018-06-30"
DATED = {
    "repairs": "closed_on",
    "readings": "read_on",
    "stock": "counted_on",
    "sales": "sold_on",
    "fitted": "fitted_from",
}

BACKTEST = {"forecast_check", "forecast_score", "shortage_curve"}
"""Written by `backtest` alone, whose own tests hold that nothing after a past day moves what was foretold on it."""

MAY_BE_EMPTY = {"repeat_repair", "part_misfit", "catalogue_finding", "order_choice"}
"""Tables in which the demo may have nothing on that day; before the first stock count nothing can be ordered."""


def analysed(data, feed):
    load(data, map_feed(feed), loaded_on=LOADED_ON)
    analyse(data, as_of=date.fromisoformat(DAY))
    return data


def is_later(text):
    """Whether a day is after the as-of day; what is no day is quarantined, in both ledgers."""
    try:
        return date.fromisoformat(DAY) < date.fromisoformat(text) <= LOADED_ON
    except ValueError:
        return False


@pytest.fixture(scope="module")
def both(demo_feed, tmp_path_factory):
    """Two data folders: everything, and only what is dated up to the day; quarantined rows are kept in both."""
    early = tmp_path_factory.mktemp("early") / "feed"
    early.mkdir()
    for path in demo_feed.glob("*.csv"):
        with path.open(newline="", encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
        dated = DATED.get(path.stem)
        kept = [row for row in rows if not dated or not is_later(row[dated])]
        with (early / path.name).open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, fieldnames=list(rows[0]))
            writer.writeheader()
            writer.writerows(kept)
    return (
        analysed(tmp_path_factory.mktemp("all_data"), demo_feed),
        analysed(tmp_path_factory.mktemp("early_data"), early),
    )


@pytest.mark.parametrize("name", sorted(set(TABLES) - {"meta", "data_quality"} - BACKTEST))
def test_rule_06_nothing_dated_later_changes_a_table(both, name):
    everything, early = (table(data, name) for data in both)
    assert everything.height > 0 or name in MAY_BE_EMPTY
    assert everything.equals(early)


def test_rule_06_what_is_left_out_is_counted_as_of_the_day(both):
    everything, early = (
        table(data, "data_quality").filter(~pl.col("kind").str.contains("quarantine|set aside: repairs"))
        for data in both
    )
    assert everything.select("kind", "count").equals(early.select("kind", "count"))
