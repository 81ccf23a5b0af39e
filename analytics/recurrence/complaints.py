"""Which causes each complaint had on each series, in counts; the candidates of a check order."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.finding import finding
from analytics.recurrence.places import place_tree

if TYPE_CHECKING:
    from analytics.parameters import Parameters

WHOLE = 2520
"""Weight of a visit, shared by its causes: every count up to ten divides it, so that sums are exact (rule 7)."""

CELL = ["complaint", "series"]


def published(cause: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    """Return the rows whose complaint several cars had in the same words.

    Parameters
    ----------
    cause
        Rows of ``complaint_cause``.
    parameters
        `complaint_cars`.

    Notes
    -----
    What only one car ever complained of in its own words is free text, and free text enters no snapshot.
    """
    return cause.filter(pl.col("vehicle_id").n_unique().over("complaint") >= parameters.complaint_cars)


def own_words(cause: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    """Return how many jobs have a complaint that is not published, as at most one row of ``data_quality``.

    Parameters
    ----------
    cause, parameters
        As of `published`.
    """
    jobs = cause.unique(["vehicle_id", "came_on", "complaint"], maintain_order=True)
    kept = published(jobs, parameters).select("record", "complaint")
    others = jobs.join(kept, on=["record", "complaint"], how="anti")
    says = "kept out of every snapshot, as free text; write complaints in the same words each time"
    example = str(others["record"].min()) if others.height else None
    return finding("complaint in the words of one car", others.height, jobs.height, says, example)


def candidates(cause: pl.DataFrame, fact: pl.DataFrame) -> pl.DataFrame:
    """Return the components that may be behind each complaint on each series with a cause found on it.

    Parameters
    ----------
    cause
        Rows of ``complaint_cause``, those published.
    fact
        Rows of ``check_fact``.

    Returns
    -------
    polars.DataFrame
        complaint, series, component, own and family (jobs on this and on the other series, a job with several causes
        shared), jobs (whole ones on this series), own_jobs and family_jobs (of the complaint), none_found (jobs on this
        series at which nothing was found). In order of complaint, series, component; a component that another series
        had as a cause counts only where this series has it.
    """
    found = cause.filter(pl.col("outcome") == "found")
    here = found.group_by(*CELL, "component").agg(own=pl.col("weight").sum(), jobs=pl.len().cast(pl.Int64))
    everywhere = found.group_by("complaint", "component").agg(total=pl.col("weight").sum())
    seen = found.unique(["complaint", "series", "vehicle_id", "came_on"])  # a visit counts once
    per_cell = seen.group_by(CELL).agg(own_jobs=pl.len().cast(pl.Int64))
    per_cell = per_cell.with_columns(family_jobs=pl.col("own_jobs").sum().over("complaint") - pl.col("own_jobs"))
    none = cause.filter(pl.col("outcome") == "no fault found").group_by(CELL).agg(none_found=pl.len().cast(pl.Int64))
    on_series = fact.select("component", "series", fits=pl.lit(value=True)).unique()
    rows = (
        per_cell.join(everywhere, on="complaint")
        .join(here, on=[*CELL, "component"], how="left")
        .join(on_series, on=["component", "series"], how="left")
        .join(none, on=CELL, how="left")
        .with_columns(pl.col("own", "jobs", "none_found").fill_null(0))
        .filter((pl.col("own") > 0) | pl.col("fits"))
        .with_columns(own=pl.col("own") / WHOLE, family=(pl.col("total") - pl.col("own")) / WHOLE)
    )
    return rows.select(*CELL, "component", "own", "family", "jobs", "own_jobs", "family_jobs", "none_found").sort(
        *CELL, "component"
    )


def with_facts(
    rows: pl.DataFrame, cause: pl.DataFrame, fact: pl.DataFrame, locations: pl.DataFrame, parameters: Parameters
) -> pl.DataFrame:
    """Add where each candidate is looked for and what a check of it takes.

    Parameters
    ----------
    rows
        As from `candidates`.
    cause, fact
        As there.
    locations
        Feed table ``locations``; may be empty.
    parameters
        `check_inspections`.

    Returns
    -------
    polars.DataFrame
        The rows with location, cover (the place that must be opened), opening (its minutes), minutes and minutes_from:
        stated, inspections, typical (median of those known) or unknown (nothing in the fleet is known: minutes null).
    """
    known = _minutes(fact, parameters)
    told = rows.join(_places(rows, cause, fact), on=[*CELL, "component"], how="left", maintain_order="left")
    told = told.join(known, on=["component", "series"], how="left", maintain_order="left")
    typical = known["minutes"].median()
    told = told.with_columns(
        pl.col("minutes").fill_null(pl.lit(typical, dtype=pl.Float64)),
        minutes_from=pl.coalesce("minutes_from", pl.lit("unknown" if typical is None else "typical")),
    )
    covers = _covers(locations, told["location"])
    return told.join(covers, on="location", how="left", maintain_order="left")


def _places(rows: pl.DataFrame, cause: pl.DataFrame, fact: pl.DataFrame) -> pl.DataFrame:
    """Return where each candidate is looked for: of its usual places the one where this complaint led most often.

    Without a usual place it is that of the records, on this series before others; of several alike the first by name.
    """
    named = cause.filter((pl.col("outcome") == "found") & pl.col("location").is_not_null())
    place = [*CELL, "component", "location"]
    here = named.group_by(place).agg(times=pl.len())
    usual = (
        rows.select(*CELL, "component")
        .join(fact.select("component", "series", location="locations"), on=["component", "series"])
        .explode("location", empty_as_null=False)
        .with_columns(rank=pl.lit(0))
    )
    anywhere = named.select("complaint", "component", "location").unique()
    recorded = (
        rows.select(*CELL, "component").join(anywhere, on=["complaint", "component"]).with_columns(rank=pl.lit(1))
    )
    ranked = pl.concat([usual, recorded]).join(here, on=place, how="left").with_columns(pl.col("times").fill_null(0))
    return (
        ranked.sort(*CELL, "component", "rank", -pl.col("times").cast(pl.Int64), "location")
        .unique([*CELL, "component"], keep="first", maintain_order=True)
        .select(place)
    )


def _minutes(fact: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    enough = pl.col("inspections") >= parameters.check_inspections
    inspected = pl.when(enough).then("inspected_minutes")
    return fact.select(
        "component",
        "series",
        minutes=pl.coalesce("check_minutes", inspected),
        minutes_from=pl.when(pl.col("check_minutes").is_not_null())
        .then(pl.lit("stated"))
        .when(inspected.is_not_null())
        .then(pl.lit("inspections")),
    )


def _covers(locations: pl.DataFrame, named: pl.Series) -> pl.DataFrame:
    """Return, per place, the nearest place it is part of, or itself, that takes minutes to open."""
    stated = locations.filter(pl.col("access_minutes") > 0).select(cover="location", opening="access_minutes")
    return (
        place_tree(locations, named)
        .join(stated, left_on="ancestor", right_on="cover", how="inner")
        .sort("location", "depth")
        .unique("location", keep="last", maintain_order=True)
        .select("location", cover="ancestor", opening="opening")
    )


def sensitivities(cause: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    """Return how surely a check finds its fault: component, sensitivity.

    Parameters
    ----------
    cause
        Rows of ``complaint_cause``.
    parameters
        `check_sensitivity` and `check_sensitivity_jobs` of the prior, `return_days`.

    Notes
    -----
    A check missed its fault where a job found nothing, named the component, and the same component of that car was
    found to be the cause of a complaint within the window of a return. Mean of the beta posterior. Faults that were
    missed and never came back are not known, so it is more likely too high than too low.
    """
    found = cause.filter(pl.col("outcome") == "found")
    looked = cause.filter((pl.col("outcome") == "no fault found") & pl.col("component").is_not_null())
    later = found.select("vehicle_id", "component", "came_on")
    since = (pl.col("came_on") - pl.col("closed_on")).dt.total_days()
    missed = (
        looked.select("record", "vehicle_id", "component", "closed_on")
        .join(later, on=["vehicle_id", "component"])
        .filter(since.is_between(0, parameters.return_days, closed="right"))
        .unique("record")
        .group_by("component")
        .agg(missed=pl.len())
    )
    counts = found.group_by("component").agg(found=pl.len()).join(missed, on="component", how="full", coalesce=True)
    prior = parameters.check_sensitivity_jobs
    hits, misses = (pl.col(name).fill_null(0) for name in ("found", "missed"))
    sensitivity = (hits + prior * parameters.check_sensitivity) / (hits + misses + prior)
    return counts.select("component", sensitivity=sensitivity).sort("component")
