"""The forecasts of past days held against what happened since: the same way, from the same ledger."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import polars as pl

from analytics.checked_snapshot import checked_id, publish_checked
from analytics.counting import count
from analytics.errors import LedgerError
from analytics.ledger import open_ledger, settings
from analytics.pipeline import analysed, analysis_id, can_be_read, chosen_day, run_parameters
from analytics.scales import DAYS_PER_YEAR
from analytics.snapshot import open_snapshot, read_table, snapshot_folder, write_snapshot
from analytics.stock.backtest import demand_between, forecast_checks, foretold, rate_ahead
from analytics.stock.forecast_scores import AS_USED, EVERY_PART, forecast_scores, shortage_curves
from analytics.stock.group_demand import horizons_of
from analytics.stock.groups import known_groups
from analytics.stock.shelf import shelf_of
from analytics.stock_inputs import handed_on

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date
    from pathlib import Path

    import duckdb

    from analytics.parameters import Parameters
    from analytics.stock.backtest import Foretold
    from analytics.stock.groups import KnownGroups

ORIGINS = 8
"""Past days that forecasts are made on, unless told otherwise."""

OURS = (AS_USED, "installed base", "pooled rate")
"""Methods with a law of their own."""

DATED = (("visit", "day"), ("counter_sale", "sold_on"))
"""Tables, and their days, from which forecasts are made."""

BETWEEN_DAYS = 182
"""Days between two of them."""


@dataclass(frozen=True, slots=True)
class Backtest:
    """What was said and what happened.

    Attributes
    ----------
    checks, scores, curves
        Tables ``forecast_check``, ``forecast_score`` and ``shortage_curve``.
    origins
        Days on which forecasts were made.
    as_of
        Last day that counts.
    snapshot_id
        Snapshot that holds them; empty = not published.
    """

    checks: pl.DataFrame
    scores: pl.DataFrame
    curves: pl.DataFrame
    origins: tuple[date, ...]
    as_of: date
    snapshot_id: str = ""

    def sentences(self) -> list[str]:
        """Return what to print: a line per method, and the groups for which another method was better."""
        days = f"{self.origins[0].isoformat()} to {self.origins[-1].isoformat()}"
        told = [f"{count(len(self.origins), 'past day')}, {days}; each group over its lead time and review"]
        every, ahead = pl.col("part_no") == EVERY_PART, pl.col("verdict") == "better"
        better = self.scores.filter(ahead & (pl.col("method") == "pooled rate"))["part_no"].to_list()
        told += [
            f"{row['method']:15} {row['forecasts']:6,} forecasts: 90 % bound held {100 * row['held_90']:.0f} of 100, "
            f"mean {_times(row['mean_ratio'])} demand, loss {row['loss']:.3f}{_beside(row)}"
            f"{'' if row['method'] in OURS else ' (Poisson bounds are too narrow)'}"
            for row in self.scores.filter(every).sort("loss", "method").iter_rows(named=True)
        ]
        told += [
            f"{row['part_no']}: {row['method']} was better, its loss {row['loss_ratio']:.2f} times that of the "
            f"forecast as used on {count(row['days'], 'day')}"
            for row in self.scores.filter(~every & ahead).iter_rows(named=True)
        ]
        return told + [
            f"{row['part_no']}: the pooled rate was ahead, the installed base lost {row['times']:.2f} times as much on "
            f"{count(row['origins'], 'day')}{'' if row['part_no'] in better else ', which chance alone can make'}; or "
            "a change of part, a campaign, cars that left"
            for row in rate_ahead(self.checks).iter_rows(named=True)
        ]


def _times(ratio: float | None) -> str:
    return "of no" if ratio is None else f"{ratio:.2f} of"


def _beside(row: dict[str, Any]) -> str:
    """Say how a method did beside the forecast as used."""
    if row["verdict"] == "in use" or row["loss_ratio"] is None:
        return ""
    limits = "" if row["lower"] is None else f", {row['lower']:.2f} to {row['upper']:.2f}"
    return f", scaled {row['loss_ratio']:.2f} of the forecast as used{limits}: {row['verdict']}"


def backtest(
    data_dir: Path, *, as_of: date | None = None, origins: int = ORIGINS, progress: Callable[[str], None] | None = None
) -> Backtest:
    """Make the forecasts of past days again, each from what was known then, hold them against what happened, publish.

    Parameters
    ----------
    data_dir
        Data folder with a ledger.
    as_of
        Last day that counts; None = the latest day in the ledger.
    origins
        How many past days, half a year apart.
    progress
        Called with a sentence at the start of each stage.

    Raises
    ------
    LedgerError
        As `analyse`; also if the records are too young for any forecast to be checked.

    Notes
    -----
    Each group is checked over its own lead time and review. The records are those held now: what was corrected since
    is corrected, but nothing dated later than an origin is used on it (rule 6). What is found goes into a snapshot of
    its own, which holds the analysis of the same ledger and day too and becomes the newest; it is computed once.
    """
    say = progress or (lambda _: None)
    with open_ledger(data_dir, write=False) as connection:
        day = chosen_day(connection, data_dir, as_of)
        parameters = run_parameters(settings(connection))
        bare = analysis_id(connection, day, parameters)
        path = snapshot_folder(data_dir) / f"{checked_id(bare, origins)}.duckdb"
        if path.exists() and can_be_read(path):
            write_snapshot(data_dir, path.stem, {})
            return _known(path, day)
        found = checked(connection, day, parameters, origins, say)
        analysed(connection, data_dir, day, say)
        tables = {"forecast_check": found.checks, "forecast_score": found.scores, "shortage_curve": found.curves}
        published = publish_checked(data_dir, snapshot_folder(data_dir) / f"{bare}.duckdb", origins, tables)
        return replace(found, snapshot_id=published.stem)


def _known(path: Path, day: date) -> Backtest:
    """Return what a snapshot holds."""
    with open_snapshot(path) as snapshot:
        checks, scores, curves = (
            read_table(snapshot, name) for name in ("forecast_check", "forecast_score", "shortage_curve")
        )
    return Backtest(checks, scores, curves, tuple(checks["origin"].unique().sort()), day, path.stem)


def checked(
    connection: duckdb.DuckDBPyConnection, as_of: date, parameters: Parameters, origins: int, say: Callable[[str], None]
) -> Backtest:
    """Return the backtest from an open ledger; parameters as for `backtest`."""
    say("counting what happened")
    now = _groups(connection, as_of, parameters)
    shelves = {group.live_no: shelf_of(group.members, group.live_no, _NO_STOCK, as_of) for group in now.groups}
    horizons = {live_no: horizons_of(shelf, parameters)[0] for live_no, shelf in shelves.items()}
    first = min(filter(None, (_first_day(connection, *each) for each in DATED)), default=None)
    days = _origins(first, as_of, max(horizons.values(), default=0.0), origins, parameters)
    if not days:
        raise LedgerError(
            "no forecast can be checked: the records begin too late for two years of them and a delivery after",
            where="backtest",
            next_step="load older records, or wait until there are more",
        )
    said: list[Foretold] = []
    for origin in days:
        say(f"what was foretold on {origin.isoformat()}")
        for group in _groups(connection, origin, parameters).groups:
            if group.live_no in horizons:
                said += foretold(group, origin, [horizons[group.live_no]])
    happened = pl.concat([demand_between(now.groups, origin, horizons) for origin in days])
    checks = forecast_checks(said, happened)
    return Backtest(checks, forecast_scores(checks), shortage_curves(checks), tuple(days), as_of)


def _first_day(connection: duckdb.DuckDBPyConnection, table: str, day: str) -> date | None:
    found: date | None = connection.table(table).min(day).fetchall()[0][0]
    return found


def _groups(connection: duckdb.DuckDBPyConnection, day: date, parameters: Parameters) -> KnownGroups:
    """Return all groups with what was known of them on a day."""
    records, care, _ = handed_on(connection, day, parameters)
    return known_groups(records, care, parameters, day)


def _origins(first: date | None, as_of: date, longest: float, most: int, parameters: Parameters) -> list[date]:
    """Return the past days, oldest first; before each lie two years of records at least."""
    if first is None:
        return []
    last = as_of - timedelta(days=round(longest))
    days = [last - timedelta(days=BETWEEN_DAYS * k) for k in range(most)]
    since = first + timedelta(days=round(parameters.base_years * DAYS_PER_YEAR))
    return sorted(day for day in days if day >= since)


_NO_STOCK = pl.DataFrame(
    schema={
        "part_no": pl.String,
        "counted_on": pl.Date,
        "on_hand": pl.Float64,
        "reserved": pl.Float64,
        "on_order": pl.Float64,
        "on_order_due": pl.Date,
    }
)
"""Stock does not matter to what was needed."""
