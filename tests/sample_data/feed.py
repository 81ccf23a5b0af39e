"""The demo's feed and truth, read as a stranger would: all text, nothing of the generator's own memory."""

from functools import cache

import polars as pl

from sample_data.truth import Truth

FAULTS = ("failure", "found at inspection", "consequence")


@cache
def table(feed, name):
    return pl.read_csv(feed / f"{name}.csv", infer_schema=False).with_row_index("row_no", offset=1)


@cache
def truth(feed):
    return Truth.read(feed.parent / "truth.json")


@cache
def jobs(feed):
    """Repair lines that are clean enough to count: dates that can be read, in order, of cars that are known."""
    days = [pl.col(name).str.to_date("%Y-%m-%d", strict=False) for name in ("opened_on", "closed_on")]
    known = table(feed, "vehicles").select("vehicle_id", "series", "serial", "owner_key")
    read = table(feed, "repairs").with_columns(days).filter(pl.col("closed_on") <= pl.date(2026, 11, 24))
    return read.with_columns(pl.coalesce("opened_on", "closed_on").alias("day")).join(known, on="vehicle_id")
