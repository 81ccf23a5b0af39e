"""Rows in = accepted + quarantined, whatever dirt they hold; set-aside values never cost a row."""

from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

import polars as pl
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.records import judge, map_feed
from analytics.records.blocks import UNREAD
from analytics.records.feed import FEED
from tests.records.feeds import LOADED_ON

DIRT = st.sampled_from(
    [
        None,
        "",
        " ",
        "x",
        "yes",
        "km",
        "mi",
        "replaced",
        "planned",
        "Failure",
        "1",
        "-1",
        "0",
        "1e400",
        "nan",
        "12,5",
        "2024",
        "2024-05-02",
        "2024-13-01",
        "2030-01-01",
        "1/2/2024",
        "0001-01-01",
        "J1",
        "car1",
        "EUR",
        "é\u2028",
        "'",
        '"',
        "{}",
    ]
)


@st.composite
def tables(draw) -> tuple[str, pl.DataFrame]:
    name = draw(st.sampled_from(sorted(FEED)))
    columns = draw(st.lists(st.sampled_from(FEED[name].names), unique=True))
    count = draw(st.integers(0, 12))
    frame = pl.DataFrame(
        {column: draw(st.lists(DIRT, min_size=count, max_size=count)) for column in columns},
        schema=dict.fromkeys(columns, pl.String),
    )
    if not columns:
        frame = pl.DataFrame({"file": ["a.csv"] * count}, schema={"file": pl.String})
    frame = frame.with_columns(file=pl.lit("a.csv"), row_no=pl.int_range(1, count + 1, dtype=pl.Int64))
    if draw(st.booleans()):
        frame = frame.with_columns(pl.when(pl.col("row_no") % 5 == 0).then(pl.lit("broken")).alias(UNREAD))
    return name, frame


@settings(max_examples=60, deadline=None)
@given(tables(), st.sampled_from([{}, {"odometer_unit": "mi", "currency": "EUR"}]))
def test_every_row_is_accepted_or_quarantined_and_every_bad_value_is_told(named, said):
    name, frame = named
    found = judge(name, frame, loaded_on=LOADED_ON, settings=said)
    numbers = found.accepted["row_no"].to_list() + found.quarantined["row_no"].to_list()
    assert sorted(numbers) == frame["row_no"].to_list()
    assert found.accepted.select(FEED[name].names).schema == FEED[name].schema
    assert not found.accepted.select(pl.any_horizontal(pl.col(FEED[name].required).is_null())).to_series().any()
    assert set(found.set_aside["row_no"]) <= set(found.accepted["row_no"])
    assert found.quarantined["says"].null_count() == 0
    _every_written_value_is_kept_or_told(name, frame, found)


def _every_written_value_is_kept_or_told(name, frame, found):
    """A value of an accepted row that is null although something was written must stand among those set aside."""
    told = set(found.set_aside.select("row_no", "column").rows())
    for column in set(FEED[name].names) & set(frame.columns):
        written = frame.filter(pl.col(column).str.strip_chars().fill_null("") != "").select("row_no")
        lost = found.accepted.join(written, on="row_no").filter(pl.col(column).is_null())["row_no"]
        assert {(row_no, column) for row_no in lost} <= told


FIELD = st.sampled_from(["J1", "car1", "2024-05-02", "2024", "x", "", " ", "failure", "3,5", "3.5"])


@settings(max_examples=40, deadline=None)
@given(st.lists(st.lists(FIELD, min_size=1, max_size=6).map(",".join), max_size=15))
def test_every_row_of_a_file_that_is_not_blank_is_accepted_or_quarantined(lines):
    with TemporaryDirectory() as name:
        heading = "record_id,vehicle_id,closed_on,reason"
        (Path(name) / "repairs.csv").write_text("\n".join([heading, *lines]) + "\n", encoding="utf-8")
        found = map_feed(Path(name))
    table = found.tables["repairs"]
    held = judge("repairs", table, loaded_on=date(2024, 6, 1), settings={})
    blank = [n for n, line in enumerate(lines, start=1) if not line.replace(",", "").strip() and _may_be_blank(line)]
    kept = [n for n in range(1, len(lines) + 1) if n not in blank]
    assert sorted([*held.accepted["row_no"], *held.quarantined["row_no"]]) == kept
    assert table.height == len(kept)


def _may_be_blank(line: str) -> bool:
    """A row of delimiters alone is blank if it has as many as the heading; else it is broken, and told."""
    return not line.strip() or line.count(",") == 3
