"""What the order of checks would have cost, and others: every closed job once more, with only the records before it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from numpy.typing import NDArray

from analytics.estimators.dirichlet import dirichlet_law
from analytics.estimators.seeds import generator
from analytics.recurrence.checks import Checks, Grid
from analytics.recurrence.complaints import WHOLE, candidates, with_facts

if TYPE_CHECKING:
    from analytics.parameters import Parameters

Floats = NDArray[np.float64]
Whole = NDArray[np.intp]

MOST_JOBS = 5000
"""The newest jobs are replayed, at most so many."""

RESAMPLES = 1000
THIS, FREQUENT, LAST, RECORDED, ALPHABETICAL = (
    *("chance over minutes", "most frequent first", "latest first"),
    *("as first recorded", "alphabetical"),
)
DAY = 1 << 20
"""More days than any record is old."""


def check_replay(
    cause: pl.DataFrame, fact: pl.DataFrame, locations: pl.DataFrame, critical: list[str], parameters: Parameters
) -> pl.DataFrame:
    """Replay closed jobs: in each order of checks, the minutes until the cause of that job would have been found.

    Parameters
    ----------
    cause, fact, locations, critical, parameters
        As of ``check_orders``.

    Returns
    -------
    polars.DataFrame
        Snapshot table ``check_replay``: a row per order of checks; none where no job had two causes to choose from,
        or no minutes are known.

    Notes
    -----
    What is known at a job are the jobs closed before the car came in; candidates are the causes they name. A job whose
    cause none of them names is left out, whatever the order, and so is one with a single candidate. In every order the
    safety-critical components come first, by name. A check is taken to find its fault, and covers are opened once.
    Minutes, covers and usual places are those of today. Limits by drawing cars with replacement, all jobs of a car
    together.
    """
    rows = candidates(cause, fact)
    if rows.is_empty():
        return pl.DataFrame()
    facts = with_facts(rows, cause, fact, locations, parameters)
    if facts["minutes"].null_count():  # nothing in the fleet is known, so there is no minute to compare
        return pl.DataFrame()
    told = _jobs(cause, facts).with_columns(safety_first=pl.col("component").is_in(critical))
    if told.is_empty():
        return pl.DataFrame()
    told = _as_then(told, cause)
    grid = Grid.over(told, ["job"])
    known = grid.of(told["known"]) > 0
    checks = Checks.of(grid, told).only(known)
    was = (grid.of(told["was_cause"].cast(pl.Float64)) > 0) & known
    fair = was.any(axis=1) & (known.sum(axis=1) > 1)
    if not fair.any():
        return pl.DataFrame()
    spent = {
        name: _minutes_to(checks, order, was)[fair] for name, order in _orders(grid, checks, told, parameters).items()
    }
    cars = told.unique("job", keep="first", maintain_order=True)["vehicle_id"].to_numpy()[fair]
    return _compared(spent, cars, int((~was.any(axis=1)).sum()), parameters)


def _jobs(cause: pl.DataFrame, facts: pl.DataFrame) -> pl.DataFrame:
    """Return one row per job and candidate of its complaint and series, the newest jobs, in order of the day."""
    found = cause.filter(pl.col("outcome") == "found")
    job = ["came_on", "vehicle_id", "complaint", "series"]
    newest = found.select(job).unique().sort(job).tail(MOST_JOBS).with_row_index("job")
    ended = found.select(*job, "component", was_cause=pl.lit(value=True)).unique()
    columns = ["complaint", "series", "component", "minutes", "cover", "opening"]
    return (
        newest.join(facts.select(columns), on=["complaint", "series"])
        .join(ended, on=[*job, "component"], how="left")
        .with_columns(pl.col("was_cause").fill_null(value=False))
        .sort("job", "component")
    )


def _as_then(told: pl.DataFrame, cause: pl.DataFrame) -> pl.DataFrame:
    """Add own, family, known (jobs at the candidate closed before), and on which days the first and the last was."""
    found = cause.filter(pl.col("outcome") == "found")
    both = pl.concat([each.select("complaint", "series", "component") for each in (told, found)])
    numbers = both.select(
        own=pl.struct("complaint", "series", "component").rank("dense"),
        any=pl.struct("complaint", "component").rank("dense"),
    )
    day = pl.concat([told["came_on"], found["closed_on"]]).to_physical().to_numpy().astype(np.int64)
    weight = found["weight"].to_numpy()
    counted = {}
    for name in ("own", "any"):
        key = numbers[name].to_numpy().astype(np.int64) * DAY + day + DAY // 2
        asked, closed = key[: told.height], key[told.height :]
        order = np.argsort(closed, kind="stable")
        sums = np.concatenate([[0], np.cumsum(weight[order])])
        begin = np.searchsorted(closed[order], asked // DAY * DAY)
        end = np.searchsorted(closed[order], asked)
        counted[name] = sums[end] - sums[begin]
        days = np.append(closed[order], 0)
        counted[f"first {name}"], counted[f"last {name}"] = days[begin], days[end - 1]
    return told.with_columns(
        own=pl.Series(counted["own"] / WHOLE),
        family=pl.Series((counted["any"] - counted["own"]) / WHOLE),
        known=pl.Series((counted["any"] > 0).astype(np.float64)),
        first=pl.Series((counted["first any"] % DAY).astype(np.float64)),
        last=pl.Series((counted["last any"] % DAY).astype(np.float64)),
    )


def _orders(grid: Grid, checks: Checks, told: pl.DataFrame, parameters: Parameters) -> dict[str, Whole]:
    own, family = (np.where(checks.there, grid.of(told[name]), 0.0) for name in ("own", "family"))
    law = dirichlet_law(own, family, parameters.check_family_jobs, parameters.check_unseen_jobs)
    names = np.broadcast_to(np.arange(own.shape[1], dtype=np.float64), own.shape)  # candidates stand by name
    return {
        THIS: checks.best(law.mean),
        FREQUENT: checks.by(-law.mean),
        LAST: checks.by(-grid.of(told["last"])),
        RECORDED: checks.by(grid.of(told["first"])),
        ALPHABETICAL: checks.by(names),
    }


def _minutes_to(checks: Checks, order: Whole, was: NDArray[np.bool_]) -> Floats:
    """Return the minutes until the first of a job's causes is found, shape (jobs,)."""
    reached = np.cumsum(checks.steps(order), axis=1)
    hit = np.take_along_axis(was, order, 1)
    minutes: Floats = np.take_along_axis(reached, hit.argmax(axis=1)[:, None], 1)[:, 0]
    return minutes


def _compared(spent: dict[str, Floats], cars: NDArray[np.object_], unmet: int, parameters: Parameters) -> pl.DataFrame:
    """Return mean minutes of each order, and how many more than this order's, with limits over cars."""
    names, car = np.unique(cars, return_inverse=True)
    total = np.array([np.bincount(car, each) for each in spent.values()])
    jobs = np.bincount(car)
    drawn = generator("check replay").multinomial(names.size, np.full(names.size, 1 / names.size), size=RESAMPLES)
    mean = total @ drawn.T / (drawn @ jobs)
    more = mean - mean[0]
    tail = (1 - parameters.confidence) / 2
    whole = total.sum(axis=1) / jobs.sum()
    return pl.DataFrame(
        {
            "checked": list(spent),
            "jobs": jobs.sum(),
            "vehicles": names.size,
            "never_met": unmet,
            "minutes": whole,
            "minutes_lower": np.quantile(mean, tail, axis=1),
            "minutes_upper": np.quantile(mean, 1 - tail, axis=1),
            "more": whole - whole[0],
            "more_lower": np.quantile(more, tail, axis=1),
            "more_upper": np.quantile(more, 1 - tail, axis=1),
        }
    )
