"""What the records tell of a group beside its life law: who joins, what is planned, and which repairs take its part."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.scales import DAYS_PER_YEAR
from analytics.stock.history import (
    DAYS_PER_MONTH,
    MOST_AT_ONCE,
    ActiveCars,
    StockRecords,
    demand_lines,
    year_back,
    years_of_campaign,
)
from analytics.stock.in_care import FAILURES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.parameters import Parameters

    Counts = NDArray[np.int64]
    Flags = NDArray[np.bool_]


LEAST_YEARS = 1.0
"""Joining is counted as over no shorter time than this."""


@dataclass(frozen=True, slots=True)
class Streams:
    """Counts of one group.

    Attributes
    ----------
    answered
        By component, over the years of the pooled rate: repairs of failures that took the group's part, failures, and
        the share expected beforehand.
    planned, planned_years, active_cars
        Other repairs that took it over the years of streams, active car-years then (campaign years left out), and
        cars active on the as-of day.
    joiners, joining_years
        Cars that joined over the years of streams, and those years.
    joining_repairs, all_joiners
        Parts fitted at joining, in repairs, and the cars that joined since the ledger's start was over.
    joined_lately
        Cars that joined in the last year.
    quantities
        Parts per repair.
    campaign_years
        Ends of the years left out.
    """

    answered: dict[str, tuple[int, int, float]]
    planned: int
    planned_years: float
    active_cars: int
    joiners: int
    joining_years: float
    joining_repairs: int
    all_joiners: int
    joined_lately: int
    quantities: Counts
    campaign_years: tuple[date, ...]


def position_uses(records: StockRecords, groups: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    """Return one row per order, component and position that took, or would have taken, a part of a group.

    Returns
    -------
    polars.DataFrame
        `live_no`, `order_id`, `vehicle_id`, `closed_on`, `component`, `position`, `reads_as`, `joining` (on the first
        visit, or on an order opened soon after), `quantity`.
    """
    joined = pl.col("visit_day") == pl.col("first_visit_day")
    soon = (pl.col("order_from") - pl.col("joined_on")).dt.total_days() <= parameters.joining_days
    keys = ("live_no", "order_id", "vehicle_id", "closed_on", "component", "position", "reads_as", "joining")
    return (
        demand_lines(records)
        .join(groups.select("part_no", "live_no"), on="part_no", how="inner")
        .join(records.vehicles.select("vehicle_id", "first_visit_day", "joined_on"), on="vehicle_id", how="inner")
        .with_columns(joining=(joined | soon).fill_null(value=False))
        .group_by(keys)
        .agg(quantity=pl.col("quantity").sum().ceil().clip(1, MOST_AT_ONCE).cast(pl.Int64))
        .sort(keys)
    )


def streams_of(
    uses: pl.DataFrame, faults: pl.DataFrame, serving: dict[str, int], taking: pl.DataFrame, counted_on: CountedOn
) -> Streams:
    """Count what a group's forecast needs beside the life law.

    Parameters
    ----------
    uses
        Rows of `position_uses` of the group.
    faults
        Failures and faults found at the places that take it.
    serving
        By component: how many groups of the catalogue serve it.
    taking
        `vehicle_id`, `first_visit_day` of the cars that take it.
    counted_on
        Day, activity of these cars, defaults.
    """
    parameters, as_of, active = counted_on.parameters, counted_on.as_of, counted_on.active
    recent = _since(as_of, parameters.rate_months)
    answers, asked = (
        rows.filter((pl.col(day) > recent) & pl.col("reads_as").is_in(FAILURES))["component"].value_counts()
        for rows, day in ((uses, "closed_on"), (faults, "visit_day"))
    )
    took, failed = (dict(counts.iter_rows()) for counts in (answers, asked))
    kept, campaigns = _years_kept(uses, active, as_of, parameters)
    planned = uses.filter(~pl.col("joining") & ~pl.col("reads_as").is_in(FAILURES))
    within = pl.any_horizontal(
        pl.lit(value=False), *(pl.col("closed_on").is_between(a, b, closed="right") for a, b in kept)
    )
    over = counted_on.start + timedelta(days=round(parameters.joining_start_months * DAYS_PER_MONTH))
    joined = taking.filter(pl.col("first_visit_day") > over)
    since = max(_since(as_of, parameters.stream_months), over)
    at_joining = uses.filter("joining").join(joined.select("vehicle_id"), on="vehicle_id", how="semi")
    return Streams(
        answered={
            name: (took.get(name, 0), failed.get(name, 0), 1 / serving[name] if name in serving else 0.0)
            for name in {*took, *failed, *serving}
        },
        planned=planned.filter(within).height,
        planned_years=sum(active.car_years(a, b) for a, b in kept),
        active_cars=active.now,
        joiners=joined.filter(pl.col("first_visit_day") > since).height,
        joining_years=max((as_of - since).days / DAYS_PER_YEAR, LEAST_YEARS),
        joining_repairs=at_joining.height,
        all_joiners=joined.height,
        joined_lately=joined.filter(pl.col("first_visit_day") > _since(as_of, 12)).height,
        quantities=uses.filter(pl.col("closed_on") > recent)["quantity"].to_numpy().astype(np.int64),
        campaign_years=campaigns,
    )


@dataclass(frozen=True, slots=True)
class CountedOn:
    """What all counts of a group share: as-of day, start of the ledger, activity of the group's cars, defaults."""

    as_of: date
    start: date
    active: ActiveCars
    parameters: Parameters


def _since(as_of: date, months: int) -> date:
    return as_of - timedelta(days=round(months * DAYS_PER_MONTH))


def _years_kept(
    uses: pl.DataFrame, active: ActiveCars, as_of: date, parameters: Parameters
) -> tuple[list[tuple[date, date]], tuple[date, ...]]:
    """Return the years that planned work is counted over, and the campaigns among the last ones.

    Rule 38: the last three years less campaigns; where all are campaigns, the years before, campaigns left out.
    """
    last = parameters.stream_months // 12
    years = [year_back(as_of, k) for k in range(parameters.rate_months // 12)]
    campaigns = years_of_campaign(uses, active, years, parameters)
    kept = [year for year in years if year[1] not in campaigns]
    recent = [year for year in kept if year in years[:last]]
    return recent or kept or years[:last], tuple(until for _, until in years[:last] if until in campaigns)
