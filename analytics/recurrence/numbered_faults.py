"""Faults by car, visit and component, numbered, with what was done beside them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.recurrence.declared_pairs import BY, STATED, named_causes

if TYPE_CHECKING:
    from datetime import date

NO_COMPONENT = "none"
"""What table ``fault`` calls a place without a component."""

FOUND = "found at inspection"
JOINED = "joining fault"
CONSEQUENCE = "consequence"


@dataclass(frozen=True, slots=True)
class FollowOnRecords:
    """What follow-on failures are read from.

    Attributes
    ----------
    fault
        vehicle_id, visit_day, component, reads_as, why_unused, fault_record.
    line
        vehicle_id, visit_day, component, renews, reason, cause (in words); a row per line.
    visit
        vehicle_id, day, closed_on.
    vehicle
        vehicle_id, left_on.
    facts
        component, safety_critical.
    stated
        first, then: which component may harm which, as stated beforehand.
    """

    fault: pl.DataFrame
    line: pl.DataFrame
    visit: pl.DataFrame
    vehicle: pl.DataFrame
    facts: pl.DataFrame
    stated: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=STATED))


def components_of(faults: pl.DataFrame) -> pl.Series:
    """Return the components that had a fault, by name."""
    return faults.filter(pl.col("component") != NO_COMPONENT)["component"].unique().sort()


def numbered_faults(records: FollowOnRecords, names: pl.Series, window: int, as_of: date) -> pl.DataFrame:
    """Return one row per car, visit and component, sorted so.

    Parameters
    ----------
    records
        As read from the ledger on a day.
    names
        Components, in the order of their numbers.
    window
        Days after a hand-over for which a failure must be watched.
    as_of
        The day.

    Returns
    -------
    polars.DataFrame
        vehicle_id, visit_day, record (a line of it); car, visit, kind (of component), from 0; from_day, to_day (of the
        visit, days since 1970); found (at an inspection, and not failed), joining (met when the car joined),
        consequence, named (kind that the record's cause names, or null), watched (for the whole window).
    """
    number = pl.DataFrame({"component": names, "kind": np.arange(len(names))})
    fails = pl.col("reads_as") != FOUND
    said = records.line.filter(pl.col("reason") == CONSEQUENCE)
    causes = named_causes(said.select(*BY, "cause"), names).join(
        number.rename({"component": "by", "kind": "named"}), on="by"
    )
    seen = (
        records.fault.join(number, on="component", how="inner")
        .join(causes, on=BY, how="left")
        .group_by("vehicle_id", "visit_day", "kind")
        .agg(
            found=~fails.any(),
            joining=(pl.col("why_unused") == JOINED).fill_null(value=False).all(),
            consequence=(pl.col("reads_as") == CONSEQUENCE).any(),
            named=pl.col("named").first(),
            record=pl.col("fault_record").sort_by(~fails, "fault_record").first(),
        )
        .join(
            records.visit.select("vehicle_id", visit_day="day", closed_on="closed_on").unique(
                ["vehicle_id", "visit_day"]
            ),
            on=["vehicle_id", "visit_day"],
            how="left",
        )
        .join(records.vehicle.select("vehicle_id", "left_on"), on="vehicle_id", how="left")
        .sort("vehicle_id", "visit_day", "kind")
        .with_columns(
            car=pl.col("vehicle_id").rank("dense").cast(pl.Int64) - 1,
            visit=pl.struct("vehicle_id", "visit_day").rle_id().cast(pl.Int64),
            from_day=pl.col("visit_day").to_physical().cast(pl.Int64),
            to_day=pl.coalesce("closed_on", "visit_day").to_physical().cast(pl.Int64),
        )
    )
    until = pl.min_horizontal(pl.lit(as_of), pl.col("left_on").fill_null(as_of)).to_physical()
    return seen.with_columns(watched=pl.col("to_day") + window <= until)


def beside_faults(records: FollowOnRecords, events: pl.DataFrame, names: pl.Series) -> pl.DataFrame:
    """Return every component that failed or was renewed on a visit of `numbered_faults`.

    Returns
    -------
    polars.DataFrame
        visit, other (number of the component), renewed (and did not fail there); sorted.
    """
    number = pl.DataFrame({"component": names, "other": np.arange(len(names))})
    visits = events.select("vehicle_id", "visit_day", "visit").unique()
    renewed = records.line.filter("renews").join(number, on="component").join(visits, on=["vehicle_id", "visit_day"])
    failed = events.select("visit", other="kind", renewed=pl.lit(value=False))
    both = pl.concat([failed, renewed.select("visit", "other", renewed=pl.lit(value=True))])
    # what failed and was renewed on one visit counts as failed
    return both.group_by("visit", "other").agg(pl.col("renewed").all()).sort("visit", "other")
