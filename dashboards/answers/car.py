"""One car's story: lanes, marks and a sentence."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from dashboards import words
from dashboards.answers.said import Said, place_of

if TYPE_CHECKING:
    from datetime import date

    from dashboards.answers.said import Row

KINDS = {
    "failure": "failed",
    "consequence": "failed",
    "found at inspection": "failed",
    "changed in passing": "changed in passing",
    "accident": "changed in passing",
    "planned": "planned",
    "no fault found": "no fault found",
}
TOLD_BY_REASON = ("failure", "consequence", "found at inspection", "no fault found")
"""Reasons that say what an inspection found."""

LANE = pl.format("{}\t{}", "component", "position")


def title_of(row: Row) -> str:
    """Say which car this is."""
    built = f"built {row['built_on'].year}" if row["built_on"] else "year of build not known"
    return f"{row['series']} · {built} · seen since {row['first_seen'].year}"


def events(records: pl.DataFrame, faults: pl.DataFrame, places: pl.DataFrame) -> pl.DataFrame:
    """Return one mark per line of a car that names a component.

    Parameters
    ----------
    records, faults
        Rows of ``record`` and ``fault`` of one car.
    places
        component, position: where a line without a position belongs, if its component has one place only.

    Returns
    -------
    polars.DataFrame
        lane, on, kind, record_id, component, position. What the snapshot counts as a fault is `failed`; what was
        looked at is good only where the record says so.
    """
    counted = faults.select(record="fault_record", counted="position").unique("record", keep="first")
    alone = places.unique().group_by("component").agg(pl.col("position").first().alias("alone"), places=pl.len())
    alone = alone.filter(pl.col("places") == 1).drop("places")
    kind = (
        pl.when(pl.col("counted").is_not_null())
        .then(pl.lit("failed"))
        .when("clean_check")
        .then(pl.lit("checked, good"))
        .when((pl.col("action") == "inspected") & ~pl.col("reason").is_in(TOLD_BY_REASON))
        .then(pl.lit("inspected"))
        .otherwise(pl.col("reason").replace_strict(KINDS, default="changed in passing"))
    )
    named = records.filter(pl.col("component").is_not_null())
    placed = (
        named.join(counted, on="record", how="left")
        .join(alone, on="component", how="left")
        .with_columns(pl.coalesce("position", "counted", "alone", pl.lit("all")).alias("position"), kind=kind)
    )
    marked = placed.with_columns(lane=LANE, on=pl.coalesce("opened_on", "closed_on"))
    return marked.select("lane", "on", "kind", "record_id", "component", "position").sort("on", "lane", "record_id")


def fitted_parts(spells: pl.DataFrame, units: pl.DataFrame, records: pl.DataFrame, car: Row) -> pl.DataFrame:
    """Return one bar per fitted part: from its fitting to the next one's, or to the car's last visit.

    Columns: lane, label, start (null = unknown), end, fitted_still.
    """
    keys = ["component", "position"]
    closed = records.select(start_record="record", start="closed_on")
    fitted = pl.concat([spells.select(*keys, "start_record"), units.select(*keys, "start_record")]).unique()
    known = fitted.join(closed, on="start_record", how="inner").select(*keys, "start")
    told = units.filter(pl.col("fitted_on").is_not_null()).select(*keys, start="fitted_on")
    places = pl.concat([spells.select(keys), units.select(keys)]).unique()
    begun = places.with_columns(start=pl.lit(None, dtype=pl.Date))
    starts = pl.concat([known, told, begun]).unique().sort(*keys, "start", nulls_last=False)
    next_start = pl.col("start").shift(-1).over(keys)
    bars = starts.with_columns(
        lane=LANE,
        end=pl.coalesce(next_start, pl.lit(car["last_seen"])),
        fitted_still=next_start.is_null(),
    )
    clipped = pl.max_horizontal(pl.col("start"), pl.lit(car["first_seen"]))
    shown = bars.with_columns(start=pl.when(pl.col("start").is_not_null()).then(clipped))
    return shown.filter(pl.col("start").is_null() | (pl.col("start") <= pl.col("end"))).filter(
        ~(pl.col("start").is_null() & (pl.col("end") <= car["first_seen"]))
    )


def with_labels(bars: pl.DataFrame) -> pl.DataFrame:
    """Add each lane's words."""
    labels = [place_of(c, p) for c, p in zip(bars["component"], bars["position"], strict=True)]
    return bars.with_columns(label=pl.Series(labels, dtype=pl.String))


def busy_first(bars: pl.DataFrame, marks: pl.DataFrame, most: int | None = None) -> pl.DataFrame:
    """Return the places with something recorded, most first, at most so many."""
    counted = marks.group_by("lane").agg(marks=pl.len())
    ranked = bars.join(counted, on="lane", how="left").with_columns(pl.col("marks").fill_null(0))
    kept = ranked.filter(pl.col("marks") > 0)
    ordered = kept.sort(
        "marks", "component", "position", "start", descending=[True, False, False, False], nulls_last=False
    )
    lanes = ordered["lane"].unique(maintain_order=True).head(most or ordered.height)
    return ordered.filter(pl.col("lane").is_in(lanes.to_list()))


def visit_days(records: pl.DataFrame, readings: pl.DataFrame) -> pl.DataFrame:
    """Return the days on which the car was here."""
    jobs = records.select(on=pl.coalesce("opened_on", "closed_on"))
    read = readings.filter(pl.col("seen_at") != "annual return").select(on="read_on")
    return pl.concat([jobs, read]).unique().sort("on")


def car_answer(car: Row, marks: pl.DataFrame, bars: pl.DataFrame, until: date) -> Said:
    """Tell the car's story in one sentence."""
    failed = marks.filter(pl.col("kind") == "failed")
    faults = failed.select("lane", "on").unique().height
    facts = [f"**{words.count(faults, 'fault')}**", words.count(car["visits"], "visit")]
    line = words.evidence("ink", facts, until)
    if car["first_seen"] == car["last_seen"]:
        told = f"First seen on {words.day(car['first_seen'])}; nothing to compare yet."
        return Said("blank", told, words.evidence("blank", facts, until))
    span = words.reach((car["last_seen"] - car["first_seen"]).days, "age")
    told = f"{words.first_up(words.count(faults, 'fault'))} in {span} of watching"
    renewed = (
        bars.filter(pl.col("start").is_not_null())
        .group_by("component", "position")
        .agg(times=pl.len())
        .sort("times", "component", "position", descending=[True, False, False])
    )
    if renewed.height and renewed["times"][0] > 1:
        top = renewed.row(0, named=True)
        told += f"; most often renewed: {place_of(top['component'], top['position'])}, {words.times(top['times'])}"
    return Said("ink", f"{told}.", line, tuple(filter(None, (gone(car, until),))))


def gone(car: Row, until: date) -> str:
    """Say since when the car has not been seen."""
    if car["left_on"]:
        return f"Left care on {words.day(car['left_on'])}."
    days = (until - car["last_seen"]).days
    if days > words.DAYS_PER_YEAR:
        return f"Not seen since {words.day(car['last_seen'])}, {words.reach(days, 'age')} before these records end."
    return ""


def left_faults(units: pl.DataFrame) -> list[str]:
    """Return the places where a fault was found and left, or a repair did not renew the part."""
    left = units.filter(pl.col("state") == "fault found and left").sort("component", "position")
    return [place_of(c, p) for c, p in zip(left["component"], left["position"], strict=True)]
