"""Did the repair hold: repairs that came back within the window, against what chance alone would have brought."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from analytics.estimators import adjust_p_values, by_chance, proportion, rate
from analytics.recurrence.return_chance import expected_returns

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from analytics.parameters import Parameters

KEY = ["component", "action", "part_origin"]
SPLIT = ("action", "part_origin")
"""What repairs of a component are told apart by; ``all`` stands for not told apart."""

WHY_NONE = {
    "repairs_open": "not long enough ago",
    "repairs_left": "the car left before",
    "repairs_undated": "its day is not known",
}
"""Columns that count repairs not watched, and why they are not; where nothing was done, nothing can hold."""

MORE, NO_MORE, UNTOLD = "more than chance", "no more than chance", "cannot be told"
ENOUGH, TOO_FEW, NO_LIFE = "ok", "too few", "no life known"


@dataclass(frozen=True, slots=True)
class Returns:
    """Tables ``repeat_repair`` and ``return_pair``."""

    counts: pl.DataFrame
    pairs: pl.DataFrame


def repeat_repairs(
    repaired: pl.DataFrame, spells: pl.DataFrame, facts: pl.DataFrame, parameters: Parameters
) -> Returns:
    """Return how many repairs came back, by component, action and origin of the part, and the repairs that did.

    Parameters
    ----------
    repaired
        One row per repair, as `analytics.spells.returns.repaired` returns them.
    spells
        Snapshot table ``spell``.
    facts
        `component`, `family`.
    parameters
        `return_days`, `return_repairs`, `difference_p`, `confidence`, and those of rule 34.

    Notes
    -----
    Rule 37. The share has exact limits (Clopper and Pearson), the excess those of a Poisson count (Garwood) less what
    is expected. The p-value is the chance of so many returns or more; it is adjusted (Benjamini and Hochberg) over all
    components at the same split, and a row is told apart from chance by the adjusted one. A component whose lives are
    not known, as that of one counted for the whole car, has no chance to be held against.
    """
    done = repaired.filter(pl.col("why_none").is_null() | pl.col("why_none").is_in(list(WHY_NONE.values())))
    if done.is_empty():
        return Returns(pl.DataFrame(), pl.DataFrame())
    cells = done.select(KEY).unique().sort(KEY).with_row_index("cell")
    expected = expected_returns(done.filter(pl.col("why_none").is_null()), cells, spells, facts, parameters)
    rows = _counted(done)
    chance = _chance(rows, _splits(cells), expected, parameters)
    rows = rows.join(chance, on=KEY, how="left", maintain_order="left")
    return Returns(_told(rows, parameters), _pairs(done))


def _splits(rows: pl.DataFrame) -> pl.DataFrame:
    """Return the rows four times over: told apart by action and origin, by one of them, by neither."""
    alike = [[], ["part_origin"], ["action"], list(SPLIT)]
    return pl.concat([rows.with_columns(pl.lit("all").alias(name) for name in names) for names in alike])


def _counted(done: pl.DataFrame) -> pl.DataFrame:
    watched = pl.col("why_none").is_null()
    return (
        _splits(done)
        .group_by(KEY)
        .agg(
            repairs=watched.sum().cast(pl.Int64),
            returns=pl.col("return_record").count().cast(pl.Int64),
            vehicles=pl.col("vehicle_id").filter(watched).n_unique().cast(pl.Int64),
            **{name: (pl.col("why_none") == why).sum().cast(pl.Int64) for name, why in WHY_NONE.items()},
        )
        .sort(KEY)
    )


def _chance(
    rows: pl.DataFrame, cells: pl.DataFrame, expected: NDArray[np.float64], parameters: Parameters
) -> pl.DataFrame:
    """Return what chance gives each row, null where a cell of it has no life to be held against."""
    draws = pl.DataFrame(expected, schema=[f"draw_{k}" for k in range(expected.shape[1])]).with_row_index("cell")
    means = cells.join(draws, on="cell").group_by(KEY).agg(pl.exclude("cell").sort_by("cell").sum()).sort(KEY)
    told = means.filter(pl.all_horizontal(pl.exclude(KEY).is_finite()))
    seen = told.select(KEY).join(rows, on=KEY, how="left", maintain_order="left")
    found = by_chance(seen["returns"].to_numpy(), told.drop(KEY).to_numpy(), parameters.confidence)
    limits = rate(seen["returns"], 1.0, confidence=parameters.confidence)
    return pl.concat([seen.select(KEY), found], how="horizontal").select(
        *KEY,
        expected_by_chance="expected",
        chance_lower="lower",
        chance_upper="upper",
        excess=seen["returns"] - pl.col("expected"),
        excess_lower=limits["lower"] - pl.col("expected"),
        excess_upper=limits["upper"] - pl.col("expected"),
        p_value="p_value",
    )


def _told(rows: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    """Add the share that came back, the adjusted p-value, and what can be said."""
    shares = proportion(rows["returns"], rows["repairs"], confidence=parameters.confidence)
    rows = rows.with_columns(shares.select(share="proportion", lower="lower", upper="upper"))
    parts = [part for _, part in rows.group_by([pl.col(name) == "all" for name in SPLIT], maintain_order=True)]
    rows = pl.concat(part.with_columns(adjust_p_values(part["p_value"], "bh")["adjusted_p"]) for part in parts)
    more = (pl.col("adjusted_p") < parameters.difference_p).fill_null(value=False)
    few = (pl.col("repairs") < parameters.return_repairs) & ~more
    return (
        rows.with_columns(
            status=pl.when(few)
            .then(pl.lit(TOO_FEW))
            .when(pl.col("p_value").is_null())
            .then(pl.lit(NO_LIFE))
            .otherwise(pl.lit(ENOUGH))
        )
        .with_columns(
            verdict=pl.when(more)
            .then(pl.lit(MORE))
            .when(pl.col("status") == ENOUGH)
            .then(pl.lit(NO_MORE))
            .otherwise(pl.lit(UNTOLD))
        )
        .sort(KEY)
    )


def _pairs(done: pl.DataFrame) -> pl.DataFrame:
    return (
        done.filter(pl.col("return_record").is_not_null())
        .select(
            "vehicle_id",
            "series",
            *KEY,
            "position",
            "is_blank",
            "handed_on",
            "returned_on",
            "days",
            "km",
            repair_record="record",
            return_record="return_record",
        )
        .rename({"is_blank": "position_blank"})
    )
