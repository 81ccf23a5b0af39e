"""Count what the records say about the demand of each interchangeable group."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.scales import DAYS_PER_YEAR
from analytics.stock.demand import History

if TYPE_CHECKING:
    from analytics.parameters import Parameters

DAYS_PER_MONTH = DAYS_PER_YEAR / 12
MOST_AT_ONCE = 100_000
"""A repair or a sale is counted as this many parts at the most; more is a slip of the pen."""

NOT_DEMAND = ("owner-supplied", "used")
OURS_TO_PLAN = ("planned", "changed in passing")


@dataclass(frozen=True, slots=True)
class StockRecords:
    """Frames that demand is counted from; all dated up to the as-of day.

    Attributes
    ----------
    lines
        `vehicle_id`, `order_id`, `closed_on`, `component`, `part_no`, `fitted_instead_of`, `part_origin`,
        `reads_as`, `quantity`, `part_used`.
    visits
        `vehicle_id`, `day`.
    vehicles
        `vehicle_id`, `series`, `left_on`; also `serial`, `built_on`, `inferred` where parts go by serial.
    parts, sales
        Feed tables.
    invoices
        Whether the lines are part invoices that name a car, and no job is recorded.
    """

    lines: pl.DataFrame
    visits: pl.DataFrame
    vehicles: pl.DataFrame
    parts: pl.DataFrame
    sales: pl.DataFrame
    invoices: bool = False


def by(frame: pl.DataFrame, column: str) -> dict[str, pl.DataFrame]:
    """Return the rows of each value of a column, in the order of the frame."""
    return {str(key[0]): rows for key, rows in frame.partition_by(column, as_dict=True, maintain_order=True).items()}


def part_uses(records: StockRecords, groups: pl.DataFrame) -> pl.DataFrame:
    """Return one row per repair that took, or would have taken, a part of a group.

    Rule 38: owner-supplied and used parts are no demand, credits neither; a part fitted in place of ours
    because ours was out of stock is demand for ours.

    Returns
    -------
    polars.DataFrame
        `live_no`, `order_id`, `vehicle_id`, `closed_on`, `component`, `reads_as`, `quantity` (>= 1, whole).
    """
    return (
        demand_lines(records)
        .join(groups, on="part_no", how="inner")
        .group_by("live_no", "order_id", "vehicle_id", "closed_on", "component", "reads_as")
        .agg(quantity=pl.col("quantity").sum().ceil().clip(1, MOST_AT_ONCE).cast(pl.Int64))
        .sort("live_no", "closed_on", "order_id", "component", "reads_as")
    )


def demand_lines(records: StockRecords) -> pl.DataFrame:
    """Return the lines that are demand, `part_no` the number that was asked for (rule 38)."""
    ours_missing = pl.col("fitted_instead_of").is_not_null()
    ours = ours_missing | ~pl.col("part_origin").fill_null("unknown").is_in(NOT_DEMAND)
    return records.lines.filter(pl.col("part_used") & ours).with_columns(
        part_no=pl.coalesce("fitted_instead_of", "part_no")
    )


@dataclass(frozen=True, slots=True)
class Counted:
    """What was counted of a group.

    Attributes
    ----------
    history
        Repairs, car-years, quantities, sales.
    campaign_years
        The days on which years ended that were left out as campaigns.
    largest_order
        Order of the repair that took most, the newest of several; None without a repair.
    """

    history: History
    campaign_years: tuple[date, ...]
    largest_order: str | None


def group_history(
    uses: pl.DataFrame, cars: ActiveCars, sales: pl.DataFrame, as_of: date, parameters: Parameters
) -> Counted:
    """Count repairs, car-years, quantities and counter sales of one group.

    Parameters
    ----------
    uses
        Rows of `part_uses` of the group.
    cars
        Activity of the cars that can take the group.
    sales
        Rows of feed table ``sales`` for the group's numbers, with `kept_since`, the first day of any sale.
    as_of
        Last day that counts.
    parameters
        `rate_months`, `campaign_share`, `active_months`.
    """
    years = [year_back(as_of, k) for k in range(parameters.rate_months // 12)]
    kept = [(since, until) for since, until in years if cars.car_years(since, until) > 0]
    campaigns = years_of_campaign(uses, cars, kept, parameters)
    used = [(since, until) for since, until in kept if until not in campaigns] or kept
    within = pl.any_horizontal(
        pl.lit(value=False),
        *(pl.col("closed_on").is_between(since, until, closed="right") for since, until in used),
    )
    repairs = uses.filter(within)
    sold, sales_years = _counter_sales(sales, as_of)
    history = History(
        repairs=repairs.height,
        car_years=sum(cars.car_years(since, until) for since, until in used),
        active_cars=cars.now,
        quantities=repairs["quantity"].to_numpy().astype(np.int64),
        sales=sold,
        sales_years=sales_years,
    )
    most = repairs.sort("quantity", "closed_on", "order_id")["order_id"]
    return Counted(history, campaigns, str(most[-1]) if len(most) else None)


@dataclass(frozen=True, slots=True)
class ActiveCars:
    """How many cars were active at the middle of each quarter before the as-of day.

    Attributes
    ----------
    quarter_days
        Middles of the quarters.
    counts
        Cars seen within the active months before each middle.
    now
        The same on the as-of day.
    first_day
        First visit of any car: no exposure before it.
    """

    quarter_days: tuple[date, ...]
    counts: tuple[int, ...]
    now: int
    first_day: date | None

    def car_years(self, since: date, until: date) -> float:
        """Return the active car-years in (since, until], none before the first visit."""
        return sum(n * 0.25 for d, n in zip(self.quarter_days, self.counts, strict=True) if since < d <= until)

    def mean(self, since: date, until: date) -> float:
        """Return the mean number of active cars in (since, until]."""
        inside = [n for d, n in zip(self.quarter_days, self.counts, strict=True) if since < d <= until]
        return sum(inside) / len(inside) if inside else 0.0


def active_cars(visits: pl.DataFrame, vehicles: pl.DataFrame, as_of: date, parameters: Parameters) -> ActiveCars:
    """Count cars seen within the active months before each quarter's middle; a car that left counts no more.

    Parameters
    ----------
    visits
        `vehicle_id`, `day`.
    vehicles
        `vehicle_id`, `left_on`; only these cars count.
    as_of, parameters
        Last day; `active_months`, `rate_months`.
    """
    window = timedelta(days=round(parameters.active_months * DAYS_PER_MONTH))
    seen = visits.join(vehicles.select("vehicle_id", "left_on"), on="vehicle_id", how="inner")
    quarters = parameters.rate_months // 3
    middles = [as_of - timedelta(days=round((k + 0.5) * DAYS_PER_YEAR / 4)) for k in range(quarters)]
    first = seen["day"].min()
    counts = [_active_on(seen, middle, window) for middle in middles]
    return ActiveCars(
        tuple(middles), tuple(counts), _active_on(seen, as_of, window), first if isinstance(first, date) else None
    )


def _active_on(seen: pl.DataFrame, day: date, window: timedelta) -> int:
    here = seen.filter(
        (pl.col("day") <= day)
        & (pl.col("day") > day - window)
        & (pl.col("left_on").is_null() | (pl.col("left_on") > day))
    )
    return here["vehicle_id"].n_unique()


def year_back(as_of: date, k: int) -> tuple[date, date]:
    """Return the year that ended k years ago, its first day excluded."""
    return (
        as_of - timedelta(days=round((k + 1) * DAYS_PER_YEAR)),
        as_of - timedelta(days=round(k * DAYS_PER_YEAR)),
    )


def years_of_campaign(
    uses: pl.DataFrame, cars: ActiveCars, years: list[tuple[date, date]], parameters: Parameters
) -> tuple[date, ...]:
    """Return the last days of those years that were campaigns of planned work."""
    return tuple(
        until for since, until in years if _is_campaign(uses, since, until, cars.mean(since, until), parameters)
    )


def _is_campaign(uses: pl.DataFrame, since: date, until: date, active: float, parameters: Parameters) -> bool:
    """Rule 38: more than a quarter of the active cars, and more than two, had it planned or in passing."""
    planned = uses.filter(
        pl.col("closed_on").is_between(since, until, closed="right") & pl.col("reads_as").is_in(OURS_TO_PLAN)
    )
    cars = planned["vehicle_id"].n_unique()
    return cars > 2 and cars > parameters.campaign_share * active


def _counter_sales(sales: pl.DataFrame, as_of: date) -> tuple[int, float]:
    """Count parts asked for in the last three years; lost sales are demand."""
    dated = sales.filter(pl.col("sold_on") <= as_of)
    if dated.is_empty():
        return 0, 0.0
    since = as_of - timedelta(days=round(3 * DAYS_PER_YEAR))
    first = dated["kept_since"].min()  # a part first sold last week was not sold in the years before
    assert isinstance(first, date)
    years = min(3.0, max((as_of - first).days / DAYS_PER_YEAR, 1 / 12))
    sold = dated.filter((pl.col("sold_on") > since) & (pl.col("quantity") > 0))["quantity"]
    total = sold.clip(upper_bound=MOST_AT_ONCE).sum()
    return math.ceil(total), years
