"""The same spells by distance: km of the unit at its ends, stated at the repair or from the car's clock."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.parameters import Parameters
    from analytics.spells.clocks import Clock
    from analytics.spells.steps import Steps

NO_READING = "no reading"
NO_DISTANCE = "no distance covered"


def by_order(step: str) -> pl.Expr:
    """Return whether an order of ours is the step: papers have a number below 0."""
    return (pl.col(step) > 0).fill_null(value=False)


COLUMNS = (
    *("stretch_id", "slot_no", "age_known", "zero_on", "began_on", "start_on", "last_on", "lower_on", "event"),
    *("fit_step", "fit_fault_on", "start_step", "start_fault_on", "end_step"),
)
"""What is read of a stretch."""

FROM_JOINING = (pl.col("start_on") == pl.col("joined_on")) & (
    ~by_order("start_step") | (pl.col("began_on") < pl.col("start_on"))
)
"""Whether a unit is watched from its car's joining, not from the order that fitted or modified it."""


def distance_spells(
    stretches: pl.DataFrame, cars: NDArray[np.int64], vehicle: pl.DataFrame, clock: Clock, steps: Steps
) -> pl.DataFrame:
    """Return each stretch with its spell by distance, or with why it has none.

    Parameters
    ----------
    stretches
        stretch_id, slot_no; age_known, zero_on, began_on, start_on, last_on, lower_on, event; step and day of the
        fitting (fit_step, fit_fault_on) and of the beginning (start_step, start_fault_on), step of the end
        (end_step, null where watching ended).
    cars
        Number of each stretch's car in `vehicle`, shape ``(stretches,)``.
    vehicle
        Columns of `clocks.VEHICLE_SCHEMA`, joined_on, first_visit_day; one row per car, sorted by vehicle_id.
    clock
        The cars' clocks.
    steps
        The repairs by number, with the total distance told on their orders.

    Returns
    -------
    polars.DataFrame
        stretch_id, slot_no, entry, exit, exit_lower, vehicle_age (whole km), event, km_per_year (driven around the
        failure; null where the unit did not fail), why_none; same order.

    Notes
    -----
    A car is not driven while it stands in the workshop, so the unit taken out and the unit put in share the km of
    the order. The figure on the order is the better witness of that, also where it contradicts the separate
    readings around it and stays off the car's clock. A unit of unknown age counts from the car's joining.
    Zero km or less: a failed unit lasted 1 km, a spell without failure is left out (rule 31).
    """
    of_car = vehicle.select("joined_on", "trusted")[cars]
    at = _with_km(pl.concat([stretches.select(COLUMNS), of_car], how="horizontal"), cars, vehicle, clock, steps)
    ours = by_order("fit_step")
    at = at.with_columns(
        zero_km=pl.when(ours).then("fit_km").when(pl.col("age_known")).then("zero_day_km").otherwise("joined_km"),
    ).with_columns(
        # watched from the order that fitted or modified it, else from the car's joining
        start_km=pl.when(FROM_JOINING)
        .then(pl.max_horizontal("joined_km", pl.when(ours).then("zero_km")))
        .otherwise(pl.coalesce("start_order_km", "start_day_km")),
    )
    # a figure stated at a modification may lie a little below the clock at the fitting
    entry = (pl.col("start_km") - pl.col("zero_km")).clip(lower_bound=0)
    covered = pl.col("end_km") - pl.col("zero_km")
    failed = pl.col("event") == 1
    rows = at.with_columns(
        entry=entry,
        exit=pl.when(failed).then(pl.max_horizontal(covered, entry + 1)).otherwise(covered),
    )
    missing = pl.any_horizontal(pl.col("zero_km", "start_km", "end_km").is_null())
    lower = (pl.col("lower_km") - pl.col("zero_km")).fill_null(pl.col("entry"))
    return rows.select(
        "stretch_id",
        "slot_no",
        "entry",
        "exit",
        exit_lower=pl.when(pl.col("lower_on").is_not_null()).then(
            pl.min_horizontal(pl.max_horizontal(lower, "entry"), pl.col("exit") - 1)
        ),
        vehicle_age=pl.when("trusted").then("start_km"),
        event="event",
        km_per_year=clock.km_per_year(cars, pl.select(pl.when(rows["event"] == 1).then(rows["last_on"])).to_series()),
        why_none=pl.when(missing)
        .then(pl.lit(NO_READING))
        .when(pl.col("exit") <= pl.col("entry"))
        .then(pl.lit(NO_DISTANCE)),
    )


def _with_km(
    stretches: pl.DataFrame, cars: NDArray[np.int64], vehicle: pl.DataFrame, clock: Clock, steps: Steps
) -> pl.DataFrame:
    """Add the car's total km on every day and order that the spell turns on."""
    # only what a spell turns on is looked up
    days = stretches.select(
        zero_day_km=pl.when(~by_order("fit_step"), "age_known").then("zero_on"),
        start_day_km=pl.when(FROM_JOINING).then(None).otherwise("start_on"),
        end_day_km="last_on",
        lower_km="lower_on",
        fit_day_km="fit_fault_on",
        start_order_day_km="start_fault_on",
    )
    of_order = {f"{end}_stated_km": steps.of("stated_km", stretches[f"{end}_step"]) for end in ("fit", "start", "end")}
    every = np.arange(vehicle.height)
    joined = clock.km_of(every, vehicle["first_visit_day"]).fill_null(clock.km_of(every, vehicle["joined_on"]))
    return stretches.with_columns(
        *(clock.km_of(cars, day).alias(day.name) for day in days),
        joined_km=joined.gather(cars),
        **of_order,
    ).with_columns(
        fit_km=pl.coalesce("fit_stated_km", "fit_day_km"),
        start_order_km=pl.coalesce("start_stated_km", "start_order_day_km"),
        end_km=pl.coalesce("end_stated_km", "end_day_km"),
    )


def stated_km(orders: pl.Series, stated: pl.DataFrame) -> pl.Series:
    """Return the total km that each order states, null where it states none.

    Parameters
    ----------
    orders
        order_id, null where there is none, shape ``(n,)``.
    stated
        order_id, stated_km; one row per order.
    """
    # most units were neither fitted nor taken out by an order
    told = orders.is_not_null().arg_true()
    km = orders.gather(told).to_frame("order_id").join(stated, on="order_id", how="left", maintain_order="left")
    return pl.repeat(None, orders.len(), dtype=pl.Int64, eager=True).scatter(told, km["stated_km"])


def distance_share(spells: pl.DataFrame, component: pl.Series, parameters: Parameters) -> pl.DataFrame:
    """Return how many spells of each component have no distance, and whether its distance law is refused (rule 29).

    Parameters
    ----------
    spells
        As `distance_spells` returns them.
    component
        Component of each.
    parameters
        ``distance_refusal_points``.

    Returns
    -------
    polars.DataFrame
        component, failed, failed_without, censored, censored_without (counts), points (difference of the two shares,
        percentage points; null where one kind has no spell), refused; sorted by component.

    Notes
    -----
    Where failed units lack their km more often than others, or less, the rest is no fair sample of lives in km.
    """
    failed, without = pl.col("event") == 1, pl.col("why_none") == NO_READING
    counts = (
        spells.with_columns(component=component)
        .group_by("component")
        .agg(
            failed=failed.sum().cast(pl.Int64),
            failed_without=(failed & without.fill_null(value=False)).sum().cast(pl.Int64),
            censored=(~failed).sum().cast(pl.Int64),
            censored_without=(~failed & without.fill_null(value=False)).sum().cast(pl.Int64),
        )
    )
    both = (pl.col("failed") > 0) & (pl.col("censored") > 0)
    difference = pl.col("failed_without") / pl.col("failed") - pl.col("censored_without") / pl.col("censored")
    return (
        counts.with_columns(points=pl.when(both).then(100 * difference.abs()))
        .with_columns(refused=(pl.col("points") > parameters.distance_refusal_points).fill_null(value=False))
        .sort("component")
    )


def order_km(readings: pl.DataFrame, reading_in: pl.DataFrame) -> pl.DataFrame:
    """Return the total km stated on each order.

    Parameters
    ----------
    readings
        The clock's judged figures.
    reading_in
        The same figures with the order_id that stated them.

    Returns
    -------
    polars.DataFrame
        order_id, stated_km; of several figures on one order the greatest, the car's last before it left.
    """
    figure = ["vehicle_id", "read_on", "seen_at"]
    orders = reading_in.filter("stated").select(*figure, "order_id").unique()
    return (
        readings.filter(pl.col("stated") & pl.col("total_km").is_not_null())
        .join(orders, on=figure)
        .group_by("order_id")
        .agg(stated_km=pl.col("total_km").max().cast(pl.Int64))
        .sort("order_id")
    )
