"""From snapshot rows to the frames a life curve is drawn from, in years or thousand km."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from dashboards.words import DAYS_PER_YEAR

if TYPE_CHECKING:
    from dashboards.answers.said import Row

UNITS = {"age": ("years", DAYS_PER_YEAR), "distance": ("thousand km", 1000.0)}
"""Unit shown and its size in the snapshot's unit, by scale."""

MOST_STEPS = 800
FEW = 4
MOST_LEFT = 0.7
BEYOND = 1.25
"""How far past the firm part of a curve the drawing goes."""

COLUMN_OF = {"variant": "variant", "part_origin": "part_origin", "series": "series", "position": "position"}


def of_group(spells: pl.DataFrame, records: pl.DataFrame, grouping: str, level: str) -> pl.DataFrame:
    """Return the spells that belong to one level of a grouping."""
    if grouping == "variant" and "variant_told_by" in spells.columns:
        # a number read off a part when it came out is known of dead parts only, so it makes no group of parts
        told = pl.col("variant_told_by").is_in(["fitting", "factory"])
        return spells.filter(pl.when(told).then("variant").otherwise(pl.lit("unknown")) == level)
    if grouping in COLUMN_OF:
        return spells.filter(pl.col(COLUMN_OF[grouping]) == level)
    if grouping == "action":
        started = records.select(start_record="record", started_by="action")
        joined = spells.join(started, on="start_record", how="left", maintain_order="left")
        return joined.filter(pl.col("started_by").fill_null("as found") == level)
    return spells


def firm_to(spells: pl.DataFrame, survival: pl.DataFrame, least: int) -> int:
    """Return the last computed time to which at least so many units were watched; 0 where there is none."""
    exits = spells["exit"].sort(descending=True)
    watched = int(exits[least - 1]) if len(exits) >= least else 0
    times = survival.filter(pl.col("time") <= watched)["time"]
    return int(times[-1]) if len(times) else 0


def drawn_to(survival: pl.DataFrame, firm: int, spells: pl.DataFrame) -> int:
    """Return where the drawing ends: a little past what was watched, never past what was computed."""
    last = int(survival["time"][-1])
    watched = max([firm, *spells["exit"].to_list()]) if spells.height else 0
    wanted = firm * BEYOND if firm else watched
    times = survival.filter(pl.col("time") >= wanted)["time"]
    return min(last, int(times[0])) if len(times) else last


def law(survival: pl.DataFrame, scale: str, end: int) -> pl.DataFrame:
    """Return the posterior curve from 0 on, in shown units, up to `end`."""
    start = {"time": [0.0], "survival": [1.0], "lower": [1.0], "upper": [1.0]}
    rows = survival.filter((pl.col("time") <= end) & (pl.col("time") > 0)).select(
        pl.col("time") / UNITS[scale][1], "survival", "lower", "upper"
    )
    return pl.concat([pl.DataFrame(start), rows.cast(pl.Float64)])


def told_by_steps(curve: pl.DataFrame, survival: pl.DataFrame) -> bool:
    """Say whether most parts have failed before the first age the posterior was computed at: the steps must speak."""
    first = survival["survival"].drop_nulls().head(1)
    return curve.height > FEW and first.len() == 1 and float(first[0]) < MOST_LEFT


def firm_steps(curve: pl.DataFrame, least: int) -> int:
    """Return the last event time at which at least so many units were watched."""
    times = curve.filter(pl.col("at_risk") >= least)["time"]
    return int(times[-1]) if len(times) else 0


def law_of_steps(curve: pl.DataFrame, scale: str, end: int) -> pl.DataFrame:
    """Return the product-limit curve with its own limits, in the place of the posterior's."""
    start = pl.DataFrame({"time": [0.0], "survival": [1.0], "lower": [1.0], "upper": [1.0]})
    rows = curve.filter(pl.col("time") <= end).select(
        pl.col("time") / UNITS[scale][1], "survival", pl.col("lower", "upper").fill_null(pl.col("survival"))
    )
    return pl.concat([start, rows.cast(pl.Float64)])


def steps(curve: pl.DataFrame, survival: pl.DataFrame, scale: str, end: int) -> pl.DataFrame:
    """Return the product-limit steps in shown units, thinned to what a screen can show.

    Steps that are conditional on lasting to some time begin on the curve of `survival` there.
    """
    rows = curve.filter(pl.col("time") <= end).select(
        pl.col("time") / UNITS[scale][1], pl.col("survival").round(4), "at_risk", start="given_lasted_to"
    )
    if rows.height > MOST_STEPS:
        rows = rows.gather_every(rows.height // MOST_STEPS + 1)
    if rows.is_empty():
        return rows.drop("start")
    start = int(rows["start"][0])
    first = rows.head(1).with_columns(time=pl.lit(start / UNITS[scale][1]), survival=pl.lit(1.0))
    return pl.concat([first, rows]).drop("start").with_columns(pl.col("survival") * _begin(survival, start))


def _begin(survival: pl.DataFrame, start: int) -> float:
    before = survival.filter(pl.col("time") <= start)["survival"].drop_nulls()
    return float(before[-1]) if start > 0 and len(before) else 1.0


def failures(spells: pl.DataFrame, records: pl.DataFrame) -> pl.DataFrame:
    """Return the failures of these spells with the records that tell of them, newest first.

    Columns: time (of the unit, null where its age is not known), record_id, vehicle_id, closed_on, position,
    action, reason, part_no.
    """
    told = records.select("record", "record_id", "closed_on", "action", "reason", "part_no", "location")
    ended = spells.filter(pl.col("event") == 1).select(
        "vehicle_id", "position", record="end_record", time=pl.when("age_known").then("exit")
    )
    joined = ended.join(told, on="record", how="left")
    return joined.sort("closed_on", "record", descending=True, nulls_last=True).select(
        pl.col("record_id").fill_null(pl.col("record")),
        "vehicle_id",
        "closed_on",
        "position",
        "action",
        "reason",
        "part_no",
        "time",
    )


def ask_options(survival: pl.DataFrame, end: int, most: int = 40) -> list[int]:
    """Return the ages that may be asked at: times the snapshot holds, at most forty."""
    times = [int(t) for t in survival.filter((pl.col("time") > 0) & (pl.col("time") <= end))["time"]]
    every = -(-len(times) // most) or 1
    return times[every - 1 :: every] or times


def usual_ask(options: list[int], failed: pl.DataFrame, firm: int) -> int:
    """Return the age asked at first: the middle of the failures, else half of what was watched."""
    times = failed["time"].drop_nulls().sort()
    middle = int(times[len(times) // 2]) if len(times) else firm // 2
    return min(options, key=lambda t: abs(t - middle))


def row_at(survival: pl.DataFrame, time: int) -> Row | None:
    """Return the row at exactly this time."""
    found = survival.filter(pl.col("time") == time)
    return found.row(0, named=True) if found.height else None
