"""Parquet as programs write it: every plain type becomes its text; lists, structs and lengths of time are refused."""

import io
from datetime import date, datetime, time, timedelta
from decimal import Decimal

import polars as pl
import pytest

from analytics.errors import FeedError
from analytics.records import judge, map_feed
from analytics.records.workbook import read_parquet
from tests.records.feeds import LOADED_ON, rows

STAMP = datetime(2024, 5, 2, 23, 30)  # noqa: DTZ001 - the zone is put on below


def packed(frame, **options):
    made = io.BytesIO()
    frame.write_parquet(made, **options)
    return made.getvalue()


@pytest.mark.parametrize(
    ("values", "text"),
    [
        (pl.Series([date(2024, 5, 2)]), "2024-05-02"),
        (pl.Series([Decimal("12.50")]), "12.50"),
        (pl.Series([61240.0]), "61240"),
        (pl.Series([float("nan")]), None),
        (pl.Series([0.1], dtype=pl.Float32), "0.1"),
        (pl.Series([2**60]), str(2**60)),
        (pl.Series(["hose"]).cast(pl.Categorical), "hose"),
        (pl.Series(["hose"], dtype=pl.Enum(["hose"])), "hose"),
        (pl.Series([True]), "true"),
        (pl.Series(["007 "]), "007"),
        (pl.Series([None]), None),
        (pl.Series([time(3, 4)]), "03:04:00"),
    ],
)
def test_a_plain_value_becomes_its_text(values, text):
    assert read_parquet(packed(values.alias("a").to_frame()), "a.parquet")["a"].to_list() == [text]


@pytest.mark.parametrize("unit", ["ms", "us", "ns"])
@pytest.mark.parametrize("zone", [None, "Europe/Berlin", "UTC"])
def test_a_timestamp_gives_its_day_as_written(tmp_path, unit, zone):
    frame = pl.DataFrame({"record_id": ["J1"], "vehicle_id": ["car1"], "closed_on": [STAMP]})
    frame = frame.with_columns(pl.col("closed_on").dt.cast_time_unit(unit).dt.replace_time_zone(zone))
    frame.write_parquet(tmp_path / "repairs.parquet")
    found = judge("repairs", map_feed(tmp_path).tables["repairs"], loaded_on=LOADED_ON, settings={})
    assert found.accepted["closed_on"].to_list() == [date(2024, 5, 2)]


@pytest.mark.parametrize(
    "values",
    [pl.Series([["a"]]), pl.Series([{"a": 1}]), pl.Series([b"a"]), pl.Series([timedelta(hours=3)])],
    ids=["list", "struct", "bytes", "length of time"],
)
def test_what_is_no_plain_value_is_refused_with_its_column(values):
    with pytest.raises(FeedError, match="column parts does not hold plain values"):
        read_parquet(packed(values.alias("parts").to_frame()), "a.parquet")


def test_one_huge_row_group_and_many_small_ones_give_the_same_rows():
    frame = pl.DataFrame({"a": pl.int_range(200_000, eager=True), "b": pl.Series(["x"] * 200_000).cast(pl.Categorical)})
    assert read_parquet(packed(frame, row_group_size=200_000), "a").equals(
        read_parquet(packed(frame, row_group_size=1000), "a")
    )


def test_a_short_file_that_states_endless_rows_is_refused_unread(monkeypatch):
    monkeypatch.setattr("analytics.records.workbook.MOST_ROWS", 1000)
    with pytest.raises(FeedError, match=r"the file states 1,001 rows"):
        read_parquet(packed(pl.DataFrame({"a": ["x"] * 1001})), "a.parquet")


@pytest.mark.parametrize("cut", [3, 50, 100])
def test_a_damaged_file_is_refused(cut):
    with pytest.raises(FeedError, match="the file is not Parquet"):
        read_parquet(packed(pl.DataFrame({"a": ["x"] * 50}))[:-cut], "a.parquet")


def test_a_folder_may_mix_the_three_kinds(tmp_path):
    pl.DataFrame({"vehicle_id": ["car1"], "series": ["S1"]}).write_excel(tmp_path / "cars.xlsx", worksheet="vehicles")
    (tmp_path / "repairs.csv").write_text("record_id,vehicle_id,closed_on\nJ1,car1,2024-05-02\n")
    readings = pl.DataFrame({"vehicle_id": ["car1"], "read_on": [date(2024, 5, 2)], "odometer": [61240.0]})
    readings.write_parquet(tmp_path / "readings.parquet")
    found = map_feed(tmp_path)
    assert sorted(found.tables) == ["readings", "repairs", "vehicles"]
    assert rows(found.tables["readings"], "read_on", "odometer") == [("2024-05-02", "61240")]
