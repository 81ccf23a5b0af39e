"""The whole flow as readable functions: load a feed, analyse the ledger, publish a snapshot."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import duckdb
import polars as pl

from analytics.checked_snapshot import best_checked
from analytics.errors import LedgerError, SnapshotError
from analytics.ledger import (
    latest_known_day,
    ledger_hash,
    open_ledger,
    settings,
)
from analytics.newest import latest_day
from analytics.parameters import Parameters
from analytics.program import program_version
from analytics.quality import data_quality, parts_quality
from analytics.recurrence.before_after import before_after
from analytics.recurrence.complaints import own_words
from analytics.recurrence.declared_pairs import stated_pairs
from analytics.recurrence.follow_on import follow_on
from analytics.recurrence.interval_comparison import interval_comparisons
from analytics.recurrence.intervals import failure_intervals
from analytics.recurrence.lives import lives
from analytics.recurrence.locations import fault_locations
from analytics.recurrence.look_first import look_first
from analytics.recurrence.mean_curves import mean_cumulative
from analytics.recurrence.numbered_faults import FollowOnRecords
from analytics.recurrence.opinion import opinions_beside
from analytics.recurrence.returns import repeat_repairs
from analytics.recurrence.sensitivity import life_sensitivity
from analytics.recurrence.wear import scale_choices
from analytics.snapshot import TABLES, open_snapshot, read_table, snapshot_folder, write_snapshot
from analytics.spells.complaints import read_complaints
from analytics.spells.exposure import Exposure, build_exposure
from analytics.spells.history import history_table
from analytics.stock import STOCK_TABLES, forecast_stock
from analytics.stock_inputs import care_records, fair_spells, stock_records, without_distance_law

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date
    from pathlib import Path

    Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Analysis:
    """A finished analysis.

    Attributes
    ----------
    snapshot_id, path
        Name and file of the result.
    as_of
        Last day that counted.
    already_known
        Whether the same ledger, day and defaults had been analysed before; if they were backtested too, it is that
        result.
    """

    snapshot_id: str
    path: Path
    as_of: date
    already_known: bool


def analyse(data_dir: Path, *, as_of: date | None = None, progress: Progress | None = None) -> Analysis:
    """Compute everything as of a day and publish it as a snapshot.

    Parameters
    ----------
    data_dir
        Data folder with a ledger.
    as_of
        Last day that counts; None = the latest day in the ledger (rule 6).
    progress
        Called with a sentence at the start of each stage.

    Raises
    ------
    LedgerError
        If there is no ledger, another process writes to it, it is damaged, it holds no dated record yet, or `as_of`
        is later than any day it knows of.
    """
    with open_ledger(data_dir, write=False) as connection:
        # within the block: no car is forgotten between what was read and what is published
        return analysed(connection, data_dir, chosen_day(connection, data_dir, as_of), progress or (lambda _: None))


def analysed(connection: duckdb.DuckDBPyConnection, data_dir: Path, day: date, say: Progress) -> Analysis:
    """Compute everything as of a day from an open ledger, and publish it; parameters as `analyse`."""
    parameters = run_parameters(settings(connection))
    meta = _meta(day, parameters, ledger_hash(connection))
    snapshot_id = _snapshot_id(meta)
    path = snapshot_folder(data_dir) / f"{snapshot_id}.duckdb"
    if path.exists() and can_be_read(path):
        known = best_checked(data_dir, snapshot_id, can_be_read)
        return Analysis(known, write_snapshot(data_dir, known, {}), day, already_known=True)
    tables = compute(connection, day, parameters, say)
    tables["meta"] = pl.DataFrame(
        {"name": ["snapshot_id", *meta], "value": [snapshot_id, *meta.values()]},
        schema_overrides={"value": pl.String},
    )
    say("writing the snapshot")
    return Analysis(snapshot_id, write_snapshot(data_dir, snapshot_id, tables), day, already_known=False)


def analysis_id(connection: duckdb.DuckDBPyConnection, day: date, parameters: Parameters) -> str:
    """Return the id that an analysis of an open ledger as of a day has."""
    return _snapshot_id(_meta(day, parameters, ledger_hash(connection)))


def compute(
    connection: duckdb.DuckDBPyConnection, as_of: date, parameters: Parameters, say: Progress
) -> dict[str, pl.DataFrame]:
    """Return every snapshot table but ``meta``, from an open ledger.

    Raises
    ------
    LedgerError
        If nothing in the ledger is dated up to that day.
    """
    say("reading records, visits and odometers")
    exposure = build_exposure(connection, as_of, parameters)
    if exposure.vehicle.is_empty() and connection.table("counter_sale").count("*").fetchall() == [(0,)]:
        raise _before_all(connection, as_of)
    feed = _feed_tables(connection)
    say("fitting lives")
    facts = feed["component_fact"]
    spells = fair_spells(exposure)
    life = lives(_started(spells, exposure.record), facts, _seen(exposure.fault), parameters)
    say("counting failures, places and demand")
    stated = stated_pairs(feed["components"])
    told = FollowOnRecords(exposure.fault, feed["line"], feed["visit"], exposure.vehicle, facts, stated)
    after = follow_on(told, parameters, as_of)
    held = repeat_repairs(exposure.repaired, exposure.spell, facts, parameters)
    scales = scale_choices(exposure.spell, without_distance_law(exposure), parameters)
    care = care_records(exposure, spells, facts, scales, parameters)
    stock = forecast_stock(stock_records(exposure, feed, as_of), feed["stock"], parameters, as_of, care)
    faults, watched = _on_scales(exposure)
    said = read_complaints(connection)
    fitted = parts_quality(stock.part_misfit, stock.catalogue_finding, feed["line"])
    opinion, silent = opinions_beside(feed["opinions"], spells, parameters)
    beside = pl.concat([after.left_out, own_words(said.cause, parameters), fitted, silent])
    found: dict[str, pl.DataFrame] = {
        "survival_curve": life.curves,
        "life_model": life.models,
        "life_survival": life.survival,
        "scale_choice": scales,
        "comparison": life.comparison,
        "planned_replacement": life.planned,
        "expert_opinion": opinion,
        "sensitivity": life_sensitivity(life.models, spells, exposure.other_spell, facts, parameters),
        "failure_interval": failure_intervals(exposure.fault, exposure.watch, exposure.gap, parameters),
        "interval_comparison": interval_comparisons(*_by_car_age(faults, watched), parameters),
        "before_after": _before_after(exposure, parameters),
        "mean_cumulative": mean_cumulative(faults, watched, parameters),
        "fault_location": fault_locations(_with_order(exposure), exposure.vehicle, feed["locations"], parameters),
        "repeat_repair": held.counts,
        "return_pair": held.pairs,
        "follow_on": after.follow_on,
        "follow_on_pair": after.pairs,
        **{name: getattr(stock, name) for name in STOCK_TABLES},
        "data_quality": data_quality(connection, exposure, feed["parts"], feed["locations"], beside),
    }
    found |= look_first(said.cause, said.fact, said.reading, feed, parameters)
    for name in ("spell", "unit_now", "record", "vehicle", "reading", "fault"):
        found[name] = getattr(exposure, name)
    found["vehicle"] = exposure.vehicle.drop("presence").join(
        stock.presence, on="vehicle_id", how="left", maintain_order="left"
    )
    return {name: frame for name, frame in found.items() if frame.width}


def chosen_day(connection: duckdb.DuckDBPyConnection, data_dir: Path, as_of: date | None) -> date:
    """Return the last day that counts, or say why there is none."""
    latest = latest_day(connection, data_dir)
    known = latest_known_day(connection) or latest
    if as_of and as_of > known:
        raise LedgerError(
            f"nothing can be known as of {as_of.isoformat()}: the latest day in the ledger, of records and of loads, "
            f"is {known.isoformat()}",
            where="analyse --as-of",
            next_step=f"choose {known.isoformat()} or an earlier day, or leave --as-of out for {latest.isoformat()}",
        )
    return as_of or latest


def _before_all(connection: duckdb.DuckDBPyConnection, as_of: date) -> LedgerError:
    """Return the refusal of a day before every record, with the first day that can be chosen."""
    dated = (("repairs", "closed_on"), ("readings", "read_on"), ("sales", "sold_on"))
    days = [connection.table(table).min(column).fetchall()[0][0] for table, column in dated]
    first = min((day for day in days if day is not None and day > as_of), default=None)
    told, choose = (f"; the first is of {first}", f"{first} or a later day") if first else ("", "a later day")
    return LedgerError(
        f"no record is dated up to {as_of}{told}",
        where="analyse --as-of",
        next_step=f"choose {choose}, or leave --as-of out for the latest",
    )


def can_be_read(path: Path) -> bool:
    """Whether every table of a snapshot can be read; a damaged one is moved aside, to be written anew."""
    try:
        with open_snapshot(path) as snapshot:
            for name in TABLES:
                read_table(snapshot, name)
    except (SnapshotError, duckdb.Error):
        path.replace(path.with_suffix(".damaged"))
        return False
    return True


def run_parameters(stated: dict[str, Any]) -> Parameters:
    """Take the defaults that the mapping's settings may change."""
    costs = dict.fromkeys(("holding_share", "order_cost", "shortage_cost"), float)
    allowed = {"service_level": float, "review_days": int, **costs, "currency": str}
    return replace(Parameters(), **{name: kind(stated[name]) for name, kind in allowed.items() if name in stated})


def _meta(as_of: date, parameters: Parameters, hash_of_ledger: str) -> dict[str, str]:
    return {
        "as_of": as_of.isoformat(),
        "version": program_version(),
        "ledger_hash": hash_of_ledger,
        **{name: repr(value) for name, value in parameters.as_dict().items()},
    }


def _snapshot_id(meta: dict[str, str]) -> str:
    return f"{meta['as_of']}-{hashlib.sha256(json.dumps(meta, sort_keys=True).encode()).hexdigest()[:8]}"


def _feed_tables(connection: duckdb.DuckDBPyConnection) -> dict[str, pl.DataFrame]:
    names = (
        *("components", "locations", "limits", "opinions", "parts", "stock"),
        *("counter_sale", "component_fact", "line", "visit", "car"),
    )
    return {name: history_table(connection, name) for name in names}


def _started(spells: pl.DataFrame, record: pl.DataFrame) -> pl.DataFrame:
    """Return spells with the action that fitted each unit."""
    actions = record.select(start_record="record", started_by="action")
    return spells.join(actions, on="start_record", how="left").with_columns(pl.col("started_by").fill_null("as found"))


def _seen(faults: pl.DataFrame) -> pl.DataFrame:
    return faults.group_by("component").agg(
        events_seen=pl.len().cast(pl.Int64), events_used=pl.col("used").sum().cast(pl.Int64)
    )


def _with_order(exposure: Exposure) -> pl.DataFrame:
    return exposure.fault.join(
        exposure.record.select(fault_record="record", record_id="record_id"), on="fault_record", how="left"
    )


def _on_scales(exposure: Exposure) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return failures and windows on the car's own scales, age in days and distance in km, one below the other."""
    keep = ["vehicle_id", "series", "component", "position"]
    fault = exposure.fault.filter("used")
    faults = [
        fault.select(
            *keep, position_stated=~pl.col("position_inferred"), scale=pl.lit(scale), at=pl.col(column).cast(pl.Int64)
        ).drop_nulls()
        for scale, column in (("age", "car_days"), ("distance", "car_km"))
    ]
    windows = [
        exposure.watch.select(
            *keep, scale=pl.lit(scale), begin=pl.col(begin).cast(pl.Int64), finish=pl.col(finish).cast(pl.Int64)
        ).drop_nulls()
        for scale, begin, finish in (("age", "from_day", "to_day"), ("distance", "from_km", "to_km"))
    ]
    return pl.concat(faults), pl.concat(windows)


def _by_car_age(faults: pl.DataFrame, windows: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return those of `_on_scales` that are on the car's age."""
    by_age = pl.col("scale") == "age"
    return faults.filter(by_age).drop("scale"), windows.filter(by_age).drop("scale")


def _before_after(exposure: Exposure, parameters: Parameters) -> pl.DataFrame:
    return before_after(exposure.modification, exposure.fault, exposure.watch, exposure.renewal, parameters)
