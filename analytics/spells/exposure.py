"""What was at risk, for how long, and what happened: spells, faults and windows as of a day."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.finding import FINDING
from analytics.spells.ages import ages_of, read_lives
from analytics.spells.clocks import EXCHANGE_SCHEMA, READING_SCHEMA, VEHICLE_SCHEMA, Clock, clocks
from analytics.spells.counted_faults import fault_events
from analytics.spells.distance import distance_share, distance_spells, order_km
from analytics.spells.events import numbers_of
from analytics.spells.explain import (
    assumed,
    distances_left_out,
    papers_left_out,
    readings_left_out,
    repairs_left_out,
    repairs_not_watched,
    units_left_out,
)
from analytics.spells.facts import stretch_facts
from analytics.spells.history import READ_WITHIN, build_history
from analytics.spells.other_endings import spells_by_ending
from analytics.spells.returns import repaired, repaired_units
from analytics.spells.roles import line_notes, repair_roles
from analytics.spells.run_sql import create_table, drop_tables, hand_in, query
from analytics.spells.slots import read_slots
from analytics.spells.steps import read_steps
from analytics.spells.units import Units, spells, unit_history, units_now
from analytics.spells.variants import unit_variants

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from analytics.parameters import Parameters
    from analytics.spells.slots import Slots

TABLES = (
    "fitting",
    "factory_variant",
    "part_design",
    "watch",
    "watched_repair",
)
"""Temporary tables of this stage, in order of creation; each is the select of the same name in ``sql``."""

READ_ONCE = (
    *("vehicle", "reading_in", "instrument_exchange", "watch_end", "last_good", "laid_up", "age_spell"),
    *("fault_place", "gap", "record", "return_candidate", "modification", "renewal"),
)
"""Selects of this stage that no other one reads: their rows are handed on without a table."""

TABLES_OF_AGES = ("stretch_stay",)
"""Temporary tables made from spells by age; ``silent_end``, ``stretch_fate`` and ``fault_event`` are handed in."""


WATCH_COLUMNS = (
    *("vehicle_id", "series", "component", "position", "start_on", "end_on", "from_day", "to_day", "vehicle_days"),
    *("from_km", "to_km", "km"),
)


RECORD_COLUMNS = (
    *("record", "record_id", "line_no", "vehicle_id", "series", "opened_on", "closed_on", "odometer_km", "component"),
    *("position", "location", "action", "reason", "part_no", "part_origin", "quantity", "labour_minutes", "inferred"),
    *("spell_note", "clean_check"),
)


@dataclass(frozen=True, slots=True)
class Exposure:
    """Everything the estimators and counts are made from, as of a day.

    Attributes
    ----------
    spell
        Snapshot table ``spell``.
    other_spell
        Spells by age if watching ended otherwise, as `spells_by_ending` returns them.
    unit_now
        Snapshot table ``unit_now``; also vehicle_age (days since built_on when its age began to count).
    unit_history
        One row per unit that a position ever held: vehicle_id, series, component, position, unit_no, zero_on,
        age_known, is_used, vehicle_age (days since built_on at zero_on), variant; sorted by position and unit.
    record
        Snapshot table ``record``.
    vehicle
        Snapshot table ``vehicle``; also joined_on, since_new, trusted, span_years, own_km_per_year, km_per_year.
    reading
        Snapshot table ``reading``.
    fault
        Snapshot table ``fault``: one row per visit, component and position, and one with component ``none`` for each
        further place. Also built_on, why_unused, in_spell, car_days and car_km (of the car; null where not known).
    watch
        One row per position of a car while it is watched: vehicle_id, series, component, position, start_on, end_on,
        from_day, to_day (days since built_on), from_km, to_km (total km; null where not trusted), vehicle_days (long
        stays in the workshop taken out), km (driven while watched).
    gap
        One row per gap between failures: component, position, series, vehicle_id, from_on, days, event.
    modification
        One row per position of a car that was modified: component, kind, modification, vehicle_id, position, visit_day,
        from_on, to_on, until_on.
    renewal
        One row per day on which a unit was renewed: component, vehicle_id, position, day.
    repaired
        One row per repair, watched for its return or not, as `returns.repaired` returns them.
    distance_share
        One row per component: failed, failed_without, censored, censored_without, points, refused (rule 29).
    left_out
        kind, count, out_of, example_record, says.
    """

    spell: pl.DataFrame
    other_spell: pl.DataFrame
    unit_now: pl.DataFrame
    unit_history: pl.DataFrame
    record: pl.DataFrame
    vehicle: pl.DataFrame
    reading: pl.DataFrame
    fault: pl.DataFrame
    watch: pl.DataFrame
    gap: pl.DataFrame
    modification: pl.DataFrame
    renewal: pl.DataFrame
    repaired: pl.DataFrame
    distance_share: pl.DataFrame
    left_out: pl.DataFrame


def build_exposure(connection: duckdb.DuckDBPyConnection, as_of: date, parameters: Parameters) -> Exposure:
    """Read the ledger as of a day and return what was at risk.

    Parameters
    ----------
    connection
        An open ledger; read-only is enough.
    as_of
        Last day that counts, in every table.
    parameters
        The named defaults of the rules of record.
    """
    build_history(connection, as_of, parameters)
    drop_tables(connection, READ_WITHIN)
    return exposure(connection, as_of, parameters)


def exposure(connection: duckdb.DuckDBPyConnection, as_of: date, parameters: Parameters) -> Exposure:
    """Turn the history of a ledger into spells, units, faults and windows.

    Parameters
    ----------
    connection
        A connection on which `build_history` has run for the same day.
    as_of
        Last day that counts.
    parameters
        The named defaults of the rules of record.
    """
    values = {"as_of": as_of, **parameters.as_dict()}
    for name in TABLES:
        create_table(connection, name, values)
    read = partial(query, connection, values=values)
    vehicle = read("vehicle")
    reading_in = read("reading_in")
    clock = clocks(
        reading_in.select(list(READING_SCHEMA)),
        vehicle.select(list(VEHICLE_SCHEMA)),
        as_of,
        parameters,
        read("instrument_exchange").select(list(EXCHANGE_SCHEMA)),
    )
    steps = read_steps(connection, order_km(clock.reading, reading_in))
    slots = read_slots(connection, vehicle)
    lives = read_lives(connection, values, steps, slots.window)
    ages = ages_of(connection, values, lives)
    designs, factory = _table(connection, "part_design"), _table(connection, "factory_variant")
    units = Units(lives, unit_variants(lives, steps, slots, designs, factory), steps, slots)
    faults = fault_events(lives, ages, steps, vehicle, clock)
    hand_in(connection, "fault_event", faults)
    roles = repair_roles(lives, ages, steps)
    lines = read("record").sort("line_key")
    notes = line_notes(roles, _table(connection, "unit_line", "line_key", "repair_no"), lines.height)
    facts = stretch_facts(lives, ages)
    of_spell = numbers_of(facts["slot_no"]) - 1
    distances = distance_spells(facts, slots.car[of_spell], vehicle, clock, steps)
    watched = _table(connection, "watched_repair").sort("repair_no")
    event = lives.events.of_repair[numbers_of(watched["repair_no"]) - 1]
    in_place = repaired_units(watched, event, lives)
    repairs = repaired(watched, in_place, read("return_candidate"), clock, steps, parameters)
    return Exposure(
        spell=spells(facts, ages.pieces[0], distances, units),
        other_spell=spells_by_ending(ages.pieces[1:], lives.stretches, slots),
        unit_now=units_now(units, clock, vehicle, as_of),
        unit_history=unit_history(units),
        record=lines.with_columns(notes).select(RECORD_COLUMNS),
        vehicle=vehicle.join(clock.rate, on="vehicle_id", how="left", maintain_order="left").with_columns(
            presence=pl.lit(None, dtype=pl.Float64)
        ),
        reading=clock.reading.drop("stated"),
        fault=_faults(faults, read("fault_place"), clock, vehicle),
        watch=_watch(_table(connection, "watch"), slots, clock, vehicle),
        gap=read("gap").sort("component", "position", "vehicle_id", "from_on"),
        modification=read("modification"),
        renewal=read("renewal"),
        repaired=repairs,
        distance_share=distance_share(distances, slots.components(of_spell), parameters),
        left_out=pl.concat(
            [
                _table(connection, "left_out").select(pl.col(name).cast(kind) for name, kind in FINDING.items()),
                repairs_left_out(roles),
                units_left_out(ages.why_none, lives.stretches.start_step, steps),
                papers_left_out(_table(connection, "fitting")),
                repairs_not_watched(repairs),
                distances_left_out(distances, facts, steps),
                readings_left_out(clock),
                assumed(facts, units.variants, steps, _table(connection, "fitting")),
            ]
        ),
    )


def _table(connection: duckdb.DuckDBPyConnection, name: str, *columns: str) -> pl.DataFrame:
    rows: pl.DataFrame = connection.table(name).select(*(columns or "*")).pl()
    return rows


def _faults(events: pl.DataFrame, places: pl.DataFrame, clock: Clock, vehicle: pl.DataFrame) -> pl.DataFrame:
    places = places.with_columns(
        component=pl.lit("none"),
        position=pl.lit("all"),
        used=pl.lit(value=False),
        why_unused=pl.lit("place only"),
        position_inferred=pl.lit(value=False),
        in_spell=pl.lit(value=False),
    )
    rows = pl.concat([events.drop("slot_no", "window_no"), places], how="diagonal")
    rows = rows.join(vehicle.select("vehicle_id", "built_on", "trusted"), on="vehicle_id", how="left")
    rows = rows.with_columns(total=clock.km_at(rows["vehicle_id"], rows["visit_day"]))
    return (
        rows.with_columns(
            car_days=(pl.col("visit_day") - pl.col("built_on")).dt.total_days(),
            car_km=pl.when("trusted").then("total"),
        )
        .drop("total", "trusted")
        .sort("vehicle_id", "visit_day", "component", "position", "fault_record")
    )


def _watch(watch: pl.DataFrame, slots: Slots, clock: Clock, vehicle: pl.DataFrame) -> pl.DataFrame:
    """Return one row per position of a component that is watched, in order of slot_no."""
    window = numbers_of(watch["window_no"]) - 1
    cars = slots.car_of_window[window]
    begin = clock.km_of(cars, watch["start_on"])
    finish = clock.km_of(cars, watch["end_on"])
    trusted = vehicle["trusted"].gather(cars)
    watched = watch.with_columns(
        from_km=begin, to_km=finish, km=(finish - begin).clip(lower_bound=0), trusted=trusted
    ).with_columns(pl.when("trusted").then(pl.col("from_km", "to_km")).name.keep())
    row = np.full(slots.car_of_window.size, -1)
    row[window] = np.arange(watch.height)
    of_slot = row[slots.window]
    held = np.flatnonzero(of_slot >= 0)
    told = watched.drop("vehicle_id")[of_slot[held]]
    return pl.concat([slots.names(held), told], how="horizontal").select(WATCH_COLUMNS)
