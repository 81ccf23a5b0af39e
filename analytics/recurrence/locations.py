"""Where it fails again and again: visits with a fault at each place, against what chance would give."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.estimators import shrunken_ratio, standardised_ratio
from analytics.recurrence.moved_places import ring_of
from analytics.recurrence.places import place_tree, without_circles
from analytics.recurrence.scan import AVERAGE_PLACE, OTHER_SERIES, Seen, with_scan
from analytics.scales import AGE_BAND_DAYS, DAYS_PER_YEAR

if TYPE_CHECKING:
    from analytics.parameters import Parameters

FAULTS = ("failure", "found at inspection", "consequence")

HAS_OWN_ROWS = pl.col("series").ne_missing("all")
"""Rows of ``all`` add every series up; a series of that name would be counted into them twice."""


def fault_locations(
    faults: pl.DataFrame, vehicles: pl.DataFrame, locations: pl.DataFrame, parameters: Parameters
) -> pl.DataFrame:
    """Count visits with a fault at every place of the tree, and what chance alone would give.

    Parameters
    ----------
    faults
        `vehicle_id`, `series`, `visit_day`, `record_id`, `location`, `reads_as`; blank places are counted alone.
    vehicles
        `vehicle_id`, `series`, `built_on`, `first_seen`, `last_seen`.
    locations
        Feed table ``locations``; may be empty.
    parameters
        `confidence` of the limits, `scan_draws`, `hot_spot_p`.

    Returns
    -------
    polars.DataFrame
        Snapshot table ``fault_location``.

    Notes
    -----
    Rule 36: distinct (visit, place), so that a burst of lines on one order counts once; a place above counts a
    visit once. Basis ``average place``: all faults of that series over the places of the same level, a wider area
    in proportion to the lowest places that are part of it. Basis
    ``same place, other series``: the other series' rate per car-year within bands of car age, on this
    series' car-years; faults in bands that the other series never reached are left out on this basis.
    A circle of places is opened at its smallest one; `parent` is empty there. A series called ``all`` has no rows of
    its own: the word means every series.
    """
    locations = without_circles(locations)
    tree = place_tree(locations, faults["location"])
    seen = _visits_per_place(faults, tree, vehicles)
    if seen.is_empty():
        return pl.DataFrame()
    counted, years = _per_series(seen, tree), _car_years(vehicles)
    rows = pl.concat([_average_place(counted, tree), _other_series(seen, years, tree)], how="diagonal")
    rows = _with_ratios(rows.sort("basis", "series", "depth", "location"), parameters)
    return with_scan(rows, _seen(faults, seen, years, tree), parameters).join(
        locations.select("location", "name", "parent", "x", "y", "deck"), on="location", how="left"
    )


def _seen(faults: pl.DataFrame, by_place: pl.DataFrame, car_years: pl.DataFrame, tree: pl.DataFrame) -> Seen:
    visit = ("vehicle_id", "series", "visit_day")
    counted = faults.filter(pl.col("reads_as").is_in(FAULTS)).select(*visit, "location").unique()
    visits = counted.group_by(visit).agg(blank=pl.col("location").is_null().any())
    both = pl.concat([visits.with_columns(series=pl.lit("all")), visits.filter(HAS_OWN_ROWS)])
    return Seen(
        recorded=counted.drop_nulls("location"),
        by_place=by_place,
        blank=both.group_by("series").agg(
            blanks=pl.col("blank").sum().cast(pl.Int64), blank_share=pl.col("blank").mean()
        ),
        car_years=car_years,
        tree=tree,
    )


def _visits_per_place(faults: pl.DataFrame, tree: pl.DataFrame, vehicles: pl.DataFrame) -> pl.DataFrame:
    """One row per visit and place, places above included."""
    return (
        faults.filter(pl.col("location").is_not_null() & pl.col("reads_as").is_in(FAULTS))
        .join(tree, on="location", how="inner")
        .join(vehicles.select("vehicle_id", "built_on"), on="vehicle_id", how="left")
        .group_by("vehicle_id", "series", "visit_day", "ancestor", "depth")
        .agg(orders=pl.col("record_id").n_unique(), band=_band(pl.col("visit_day"), pl.col("built_on").first()).first())
        .rename({"ancestor": "location"})
    )


def _band(day: pl.Expr, built_on: pl.Expr) -> pl.Expr:
    return (day - built_on).dt.total_days().floordiv(AGE_BAND_DAYS).fill_null(-1)


def _per_series(seen: pl.DataFrame, tree: pl.DataFrame) -> pl.DataFrame:
    """Return counts per place for all series and for each, zero where a place saw none."""
    both = pl.concat([seen.with_columns(series=pl.lit("all")), seen.filter(HAS_OWN_ROWS)])
    counts = both.group_by("location", "series").agg(
        orders=pl.col("orders").sum().cast(pl.Int64),
        vehicles=pl.col("vehicle_id").n_unique().cast(pl.Int64),
        observed=pl.len().cast(pl.Int64),
    )
    places = tree.select(location="ancestor", depth="depth").unique()
    every = places.join(both.select("series").unique(), how="cross")
    return every.join(counts, on=["location", "series"], how="left").with_columns(
        pl.col("orders", "vehicles", "observed").fill_null(0)
    )


def _average_place(counted: pl.DataFrame, tree: pl.DataFrame) -> pl.DataFrame:
    ring = ring_of(tree)
    share = pl.DataFrame({"location": ring.names, "share": ring.share})
    level = pl.col("observed").sum().over("series", "depth")
    return (
        counted.join(share, on="location", how="left")
        .with_columns(expected=level * pl.col("share"), basis=pl.lit(AVERAGE_PLACE))
        .drop("share")
    )


def _other_series(seen: pl.DataFrame, car_years: pl.DataFrame, tree: pl.DataFrame) -> pl.DataFrame:
    years = car_years.group_by("series", "band").agg(years=pl.col("days").sum() / DAYS_PER_YEAR)
    if years["series"].n_unique() < 2:
        return pl.DataFrame()
    total = (
        years.group_by("band")
        .agg(all_years=pl.col("years").sort_by("series"))
        .with_columns(pl.col("all_years").list.sum())
    )
    comparable = years.join(total, on="band").with_columns(other_years=pl.col("all_years") - pl.col("years"))
    comparable = comparable.filter(pl.col("other_years") > 1e-9)
    counts = seen.group_by("location", "series", "band").agg(
        visits=pl.len(), orders=pl.col("orders").sum(), cars=pl.col("vehicle_id").unique()
    )
    everywhere = counts.group_by("location", "band").agg(all_visits=pl.col("visits").sum())
    places = tree.select(location="ancestor", depth="depth").unique()
    cells = (
        places.join(comparable, how="cross")
        .join(counts, on=["location", "series", "band"], how="left")
        .join(everywhere, on=["location", "band"], how="left")
        .with_columns(pl.col("visits", "all_visits", "orders").fill_null(0))
        .with_columns(expected=(pl.col("all_visits") - pl.col("visits")) / pl.col("other_years") * pl.col("years"))
    )
    return (
        cells.group_by("location", "series", "depth")
        .agg(
            orders=pl.col("orders").sum().cast(pl.Int64),
            vehicles=pl.col("cars").explode(empty_as_null=False).drop_nulls().n_unique().cast(pl.Int64),
            observed=pl.col("visits").sum().cast(pl.Int64),
            expected=pl.col("expected").sort_by("band"),
        )
        .with_columns(pl.col("expected").list.sum())
        .with_columns(basis=pl.lit(OTHER_SERIES))
        .filter(HAS_OWN_ROWS & ((pl.col("observed") > 0) | (pl.col("expected") > 0)))
    )


def _car_years(vehicles: pl.DataFrame) -> pl.DataFrame:
    """Return the days and years in care of each car per band of its age; whole days, so that sums are exact."""
    since_built = [(pl.col(name) - pl.col("built_on")).dt.total_days() for name in ("first_seen", "last_seen")]
    known = vehicles.filter(pl.col("built_on").is_not_null()).with_columns(start=since_built[0], end=since_built[1])
    first, last = (pl.col(name).floordiv(AGE_BAND_DAYS) for name in ("start", "end"))
    inside = pl.min_horizontal("end", (pl.col("band") + 1) * AGE_BAND_DAYS) - pl.max_horizontal(
        "start", pl.col("band") * AGE_BAND_DAYS
    )
    banded = (
        known.with_columns(band=pl.int_ranges(first, last + 1))
        .explode("band", empty_as_null=False)
        .with_columns(days=inside)
    )
    rest = vehicles.filter(pl.col("built_on").is_null()).with_columns(
        band=pl.lit(-1, dtype=pl.Int64), days=(pl.col("last_seen") - pl.col("first_seen")).dt.total_days()
    )
    both = pl.concat([part.select("vehicle_id", "series", "band", "days") for part in (banded, rest)])
    return both.with_columns(years=pl.col("days") / DAYS_PER_YEAR)


def _with_ratios(rows: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    """Add exact ratios row by row, and shrunken ones within each basis, series and level."""
    exact = standardised_ratio(rows["observed"], rows["expected"], confidence=parameters.confidence)
    rows = rows.with_columns(exact.select("ratio", "lower", "upper"))
    shrunk = []
    for _, part in rows.group_by("basis", "series", "depth", maintain_order=True):  # a prior per family of places
        ratios = shrunken_ratio(part["observed"], part["expected"], confidence=parameters.confidence)
        told = ratios.select("shrunken_ratio", "probability_above_one", shrunken_lower="lower", shrunken_upper="upper")
        shrunk.append(part.with_columns(told))
    return pl.concat(shrunk)
