"""How many repairs chance alone would bring back within the window, from the part's own lives beyond it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators import fails_again_within, fails_within, forecast_laws

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.parameters import Parameters

    Floats = NDArray[np.float64]

DRAWS = 100
"""Laws drawn of each component."""

BLOCK = 1_000
"""Cases worked out at once."""

CASE = ["component", "age", "age_known", "joined_age", "days_watched", "failed_at"]
"""What the chance of one unit depends on."""


def expected_returns(
    watched: pl.DataFrame, cells: pl.DataFrame, spells: pl.DataFrame, facts: pl.DataFrame, parameters: Parameters
) -> Floats:
    r"""Return the number of returns expected in each cell, under each of the laws drawn of its component.

    Parameters
    ----------
    watched
        Watched repairs, as `analytics.spells.returns.repaired` returns them.
    cells
        `cell` (0, 1, 2...) and the columns that name it; they are columns of `watched` as well.
    spells
        Snapshot table ``spell``.
    facts
        `component`, `family`.
    parameters
        `return_days`, and those of rule 34.

    Returns
    -------
    NDArray
        Shape ``(cells, DRAWS)``; NaN in the cells of a component whose lives are not known.

    Notes
    -----
    Chance is what the same part does when no repair lies just behind it. So the law is fitted to units that have
    outlasted the window since we fitted them: with the early failures in it, the returns would themselves be counted as
    chance. A unit put in begins at age 0; one left in its place goes on at its age, as after a minimal repair, and
    where that is not known, its failures so far tell of it. Of the chance that share counts which is noticed as a
    failure, not found at an inspection. Where the repair names no position, the failure of any other counts
    as its return, and where the failure names none, any repair's: the chance of the others is added likewise.
    """
    laws = _laws(beyond(spells, parameters.return_days), facts, parameters)
    cases = watched.join(cells, on=[name for name in cells.columns if name != "cell"], how="left").with_columns(
        # of a used part, or one whose place is not known, nothing is known
        pl.col("age").fill_null(0),
        elsewhere=(pl.col("positions") - 1)
        * pl.when("is_blank").then(1.0).otherwise(pl.col("blank_share").fill_null(0.0)),
        seen=pl.col("failure_share").fill_null(1.0),
    )
    own = cases.with_columns(times=pl.col("seen"))
    others = cases.filter(pl.col("elsewhere") > 0).with_columns(
        times=pl.col("seen") * pl.col("elsewhere"),
        age=pl.lit(0, dtype=pl.Int64),
        age_known=pl.lit(value=False),
        joined_age=pl.lit(None, dtype=pl.Int64),
        failed_at=pl.lit(None, dtype=pl.List(pl.Int64)),
    )
    alike = pl.concat([part.select("cell", *CASE, "times") for part in (own, others)])
    alike = alike.group_by("cell", *CASE).agg(pl.col("times").sort().sum()).sort("cell", *CASE)
    expected = np.zeros((cells.height, DRAWS))
    for block in alike.iter_slices(BLOCK):
        np.add.at(expected, block["cell"].to_numpy(), block["times"].to_numpy()[:, None] * _fails(block, laws))
    return expected


def beyond(spells: pl.DataFrame, days: int) -> pl.DataFrame:
    """Return the spells by age, those of units we fitted from so many days after the fitting on."""
    ours = pl.col("age_known") & pl.col("start_record").is_not_null()
    later = pl.when(ours).then(pl.max_horizontal("entry", pl.lit(days))).otherwise("entry")
    return (
        spells.filter(pl.col("scale") == "age")
        .with_columns(entry=later)
        .filter(pl.col("exit") > pl.col("entry"))
        .with_columns(
            exit_lower=pl.max_horizontal("exit_lower", pl.when(pl.col("exit_lower").is_not_null()).then("entry"))
        )
    )


def _laws(spells: pl.DataFrame, facts: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    """Return the laws drawn of each component: `component`, and lists `shape` and `life` of one length."""
    if spells.is_empty():
        return pl.DataFrame(schema={"component": pl.String, **dict.fromkeys(("shape", "life"), pl.List(pl.Float64))})
    named = spells.join(facts.select("component", "family"), on="component", how="left")
    drawn = forecast_laws(named, "component", "family", parameters=parameters).draws(DRAWS, "returns after repair")
    return drawn.group_by("component", maintain_order=True).agg("shape", "life")


def _fails(cases: pl.DataFrame, laws: pl.DataFrame) -> Floats:
    """Return the chance of each case under each law of its component, shape ``(cases, DRAWS)``; NaN without a law."""
    number = cases.join(
        laws.select("component").with_row_index("law"), on="component", how="left", maintain_order="left"
    )
    law = number["law"].cast(pl.Int64).fill_null(-1).to_numpy()
    chance = np.full((cases.height, DRAWS), np.nan)
    known = cases["age_known"].to_numpy()
    failed = ~known & cases["failed_at"].is_not_null().to_numpy()
    shape, life = (np.array(laws[name].to_list(), dtype=np.float64).reshape(-1, DRAWS) for name in ("shape", "life"))
    age, days, joined = (cases[name].cast(pl.Float64).to_numpy() for name in ("age", "days_watched", "joined_age"))
    for rows, joined_at in ((known, None), (~known & ~failed, joined)):
        told = rows & (law >= 0)
        at = None if joined_at is None else joined_at[told, None]
        chance[told] = fails_within(shape[law[told]], life[law[told]], age[told, None], days[told, None], at)
    told = failed & (law >= 0)
    times = _filled_up(cases["failed_at"].filter(pl.Series(told)))
    chance[told] = fails_again_within(shape[law[told]], life[law[told]], age[told], days[told], joined[told], times)
    return chance


def _filled_up(lists: pl.Series) -> Floats:
    """Return lists of times as rows of one length, filled up with NaN."""
    most = int(lists.list.len().to_numpy().max(initial=0))
    if not most:
        return np.full((lists.len(), 0), np.nan)
    return np.column_stack([lists.list.get(k, null_on_oob=True).cast(pl.Float64).to_numpy() for k in range(most)])
