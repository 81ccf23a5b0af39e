"""Whether any place stands out: all places of the tree, all series and both bases held against chance at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.recurrence.excess import chance, detectable_ratio, excess, noticed_from
from analytics.recurrence.exchanged_series import compared
from analytics.recurrence.moved_places import greatest_by_chance, ring_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.parameters import Parameters

    Floats = NDArray[np.float64]

AVERAGE_PLACE = "average place"
OTHER_SERIES = "same place, other series"


@dataclass(frozen=True, slots=True)
class Seen:
    """Visits with a fault, as the scan reads them.

    Attributes
    ----------
    recorded
        `vehicle_id`, `series`, `visit_day`, `location`: a row per visit and place named.
    by_place
        The same once for every place above as well, and the `band` of car age.
    blank
        `series`, `blanks`: visits with a fault whose place nobody named; `blank_share`: of all visits with a fault; a
        row for ``all`` too.
    car_years
        `vehicle_id`, `series`, `band`, `years`.
    tree
        `location`, `ancestor`, `depth`.
    """

    recorded: pl.DataFrame
    by_place: pl.DataFrame
    blank: pl.DataFrame
    car_years: pl.DataFrame
    tree: pl.DataFrame


def with_scan(rows: pl.DataFrame, seen: Seen, parameters: Parameters) -> pl.DataFrame:
    """Add to rows of ``fault_location`` how often chance makes some place stand out as much.

    Parameters
    ----------
    rows
        `location`, `series`, `basis`, `depth`, `observed`, `expected`.
    seen
        What was counted.
    parameters
        `scan_draws`, `hot_spot_p`.

    Returns
    -------
    polars.DataFrame
        The rows with `scan_p`, `detectable_ratio` (null where no excess could be noticed), `blanks`,
        `blank_share`, `scan_p_blanks_elsewhere`, `scan_p_blanks_here`.

    Notes
    -----
    One chance for all places, levels and series of a basis together, times the number of bases, so that of twenty
    fleets without a special place at most one shows any. What blanks could change is read off the same draws.
    """
    ring = ring_of(seen.tree)
    share = pl.DataFrame({"location": ring.names, "share": ring.share})
    level = pl.col("observed").sum().over("series", "depth")
    average = (
        rows.filter(pl.col("basis") == AVERAGE_PLACE)
        .join(share, on="location", how="left", maintain_order="left")
        .with_columns(here=pl.col("observed"), rest=level - pl.col("observed"))
    )
    looked = [(average, greatest_by_chance(seen.recorded, ring, parameters))]
    others = rows.filter(pl.col("basis") == OTHER_SERIES)
    if others.height:
        found, greatest = compared(seen.by_place, seen.car_years, parameters)
        looked.append((others.join(found, on=["series", "location"], how="left", maintain_order="left"), greatest))
    return pl.concat([_scanned(part, seen, greatest, len(looked), parameters) for part, greatest in looked])


def _scanned(rows: pl.DataFrame, seen: Seen, greatest: Floats, looks: int, parameters: Parameters) -> pl.DataFrame:
    # a series of which no fault is known has none without a place
    rows = rows.join(seen.blank, on="series", how="left", maintain_order="left").with_columns(
        pl.col("blanks").fill_null(0)
    )
    here, rest, share, blanks, expected = (
        rows[name].to_numpy().astype(np.float64) for name in ("here", "rest", "share", "blanks", "expected")
    )
    every = int(seen.blank.filter(pl.col("series") == "all")["blanks"].sum())
    elsewhere = np.where(rows["basis"] == AVERAGE_PLACE, blanks, every - blanks)
    told = {
        "scan_p": excess(here, rest, share),
        "scan_p_blanks_elsewhere": excess(here, rest + elsewhere, share),
        "scan_p_blanks_here": excess(here + blanks, rest, share),
    }
    least = noticed_from(greatest, parameters.hot_spot_p, looks)
    ratio = detectable_ratio(np.where(expected > 0, expected, 1.0), rest, share, least)
    return rows.drop("here", "rest", "share").with_columns(
        *(pl.Series(name, chance(found, greatest, looks)) for name, found in told.items()),
        pl.Series("detectable_ratio", np.where(np.isfinite(ratio) & (expected > 0), ratio, np.nan)).fill_nan(None),
    )
