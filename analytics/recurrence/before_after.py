"""Did the modification help: failures before, after, and what the same cars would have had without it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from analytics.estimators import rate
from analytics.estimators.seeds import generator
from analytics.recurrence.own_history import Watched, history_of, unmodified_draws
from analytics.recurrence.watched_cells import watched_cells
from analytics.scales import DAYS_PER_YEAR

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.parameters import Parameters

KEY = ["component", "kind", "modification"]
DRAWS = 2000
TOO_FEW, CANNOT, FEWER, MORE = "too few", "cannot be told", "fewer failures", "more failures"
PERIODS = ("before", "after", "unmodified")


def before_after(
    modifications: pl.DataFrame,
    faults: pl.DataFrame,
    watch: pl.DataFrame,
    renewals: pl.DataFrame,
    parameters: Parameters,
) -> pl.DataFrame:
    """Hold every modification against the time before it, unmodified cars, and what the same cars would have had.

    Parameters
    ----------
    modifications
        `component`, `kind`, `modification`, `vehicle_id`, `position`, `visit_day`, `from_on`, `to_on`, `until_on`: one
        row per position that was modified.
    faults
        `vehicle_id`, `component`, `position`, `visit_day`, `used`.
    watch
        `vehicle_id`, `series`, `component`, `position`, `start_on`, `end_on`.
    renewals
        `component`, `vehicle_id`, `position`, `day`: when a unit was renewed.
    parameters
        `confidence`, `own_failures`.

    Returns
    -------
    polars.DataFrame
        Snapshot table ``before_after``: a row per component and modification.

    Notes
    -----
    Cars are modified because they failed. Counting the failure that led to it before, and not after, makes any
    modification look good (regression to the mean). Leaving it out makes one that is made at every second failure look
    bad, because then only failures without one are left before; and cars that were never modified are those that
    happened not to fail. So the rates before, after and unmodified are told, the first without that failure, but the
    verdict holds the failures after against those expected of the same cars: by the rate of unmodified time, the
    calendar year, the series and the time since the last renewal, and by each car's own history with that failure.
    `tests/truth/before_after_fleets.py` shows the bias of the others and that this one has none.
    """
    if modifications.is_empty() or watch.is_empty():
        return pl.DataFrame()
    cells = watched_cells(modifications, faults, watch, renewals)
    if cells.is_empty():
        return pl.DataFrame()
    counts = _counts(cells, modifications, faults)
    told = [_against_history(part, parameters) for part in cells.partition_by(KEY, maintain_order=True)]
    rows = counts.join(pl.DataFrame(told, infer_schema_length=None), on=KEY, how="inner").sort(KEY)
    for period in PERIODS:
        limits = rate(rows[f"{period}_failures"], rows[f"{period}_years"] / 100, parameters.confidence)
        names = {name: f"{period}_{name}" for name in ("rate", "lower", "upper")}
        rows = rows.with_columns(limits.select(**{new: old for old, new in names.items()}))
    return rows


def _counts(cells: pl.DataFrame, modifications: pl.DataFrame, faults: pl.DataFrame) -> pl.DataFrame:
    """Return failures and years before, after, and of unmodified cars in the same calendar years."""
    slot = ["vehicle_id", "component", "position"]
    watched = cells.select(*KEY, "vehicle_id", "position").unique()
    told = modifications.join(watched, on=[*KEY, "vehicle_id", "position"], how="semi")
    led = faults.filter("used").select(*slot, "visit_day").unique()
    cars = (
        told.join(led.with_columns(led=1), on=[*slot, "visit_day"], how="left")
        .group_by(KEY)
        .agg(
            vehicles=pl.col("vehicle_id").n_unique().cast(pl.Int64),
            first_on=pl.col("from_on").min(),
            led_to_it=pl.col("led").fill_null(0).sum().cast(pl.Int64),
        )
    )
    is_after = pl.col("modified")
    same_year = pl.col("year").is_in(pl.col("year").filter(is_after).implode()).over(KEY)
    parts = {"before": ~is_after & pl.col("ever"), "after": is_after, "unmodified": ~is_after & same_year}
    sums = cells.group_by(KEY).agg(
        *(
            pl.col("failures").filter(which).sum().cast(pl.Int64).alias(f"{name}_failures")
            for name, which in parts.items()
        ),
        *((pl.col("days").filter(which).sum() / DAYS_PER_YEAR).alias(f"{name}_years") for name, which in parts.items()),
    )
    return sums.join(cars, on=KEY, how="inner").with_columns(
        before_failures=pl.col("before_failures") - pl.col("led_to_it")
    )


def _against_history(cells: pl.DataFrame, parameters: Parameters) -> dict[str, Any]:
    """Return failures after over those expected of the same cars, with limits and a verdict, for one modification."""
    key = cells.select(KEY).row(0, named=True)
    coded = cells.with_columns(
        pl.col("vehicle_id", "year", "series").rank("dense").cast(pl.Int64) - 1, years=pl.col("days") / DAYS_PER_YEAR
    )
    car, year, series, since = (coded[name].to_numpy() for name in ("vehicle_id", "year", "series", "since"))
    years, failures = (coded[name].fill_null(0.0).to_numpy().astype(np.float64) for name in ("years", "failures"))
    whole = Watched(car, year, series, since, years, failures)
    modified = coded["modified"].to_numpy()
    after = whole.only(modified)
    history = history_of(whole.only(~modified), int(whole.car.max()) + 1, _sizes(whole))
    rng = generator("before_after", *key.values())
    draws = unmodified_draws(history, after, DRAWS, rng)
    seen, expected = float(after.failures.sum()), float(draws.mean())
    lower, upper = _limits(seen, draws, rng, parameters.confidence)
    few = max(seen, expected) < parameters.own_failures
    verdict = TOO_FEW if few else FEWER if upper < 1 else MORE if lower > 1 else CANNOT
    told = {"expected": expected, "ratio": seen / expected if expected > 0 else None, "lower": lower, "upper": upper}
    return {**key, **(dict.fromkeys(told) if few else told), "verdict": verdict}


def _sizes(whole: Watched) -> tuple[int, int, int]:
    year, series, since = (int(code.max()) + 1 for code in (whole.year, whole.series, whole.since))
    return year, series, since


def _limits(
    seen: float, expected: NDArray[np.float64], rng: np.random.Generator, confidence: float
) -> tuple[float, float]:
    """Return exact limits of a Poisson count over an expectation that is itself drawn."""
    tail = (1 - confidence) / 2
    low = rng.gamma(seen, size=expected.size) / expected if seen else np.zeros(1)
    high = rng.gamma(seen + 1, size=expected.size) / expected
    return float(np.quantile(low, tail)), float(np.quantile(high, 1 - tail))
