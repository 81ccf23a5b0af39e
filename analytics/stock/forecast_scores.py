"""Which way of foretelling earned its place: losses beside the way in use, with the chance of such a difference."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from scipy.stats import t as student

from analytics.estimators import adjust_p_values
from analytics.stock.backtest import judged
from analytics.stock.group_demand import INSTALLED_BASE, POOLED_RATE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

AS_USED = "as used"
"""The forecast that a snapshot would have shown on that day: from the installed base, else at the pooled rate."""

EVERY_PART = "all"
LEAST_DAYS = 6
"""Past days that do not overlap, from which a difference is judged (judgement)."""

CONFIDENCE, SURE = 0.90, 0.05
"""Of the limits, and the adjusted p-value up to which a difference is named."""

LEAST_PARTS = 6
"""Parts from which a difference of a single one is judged: it is held against those of the others (judgement)."""

NOT_TESTED: dict[str, object] = {"off": None, "half": None, "p_value": None}
ERRORS = ("off", "usual", "half", "p_value")
SCORES = {
    **{"part_no": pl.String, "method": pl.String, "parts": pl.Int64, "days": pl.Int64, "forecasts": pl.Int64},
    **{f"held_{q}": pl.Float64 for q in (50, 80, 90, 95)},
    **{"mean_ratio": pl.Float64, "loss": pl.Float64, "loss_ratio": pl.Float64},
    **{"lower": pl.Float64, "upper": pl.Float64, "p_value": pl.Float64, "adjusted_p": pl.Float64},
    "verdict": pl.String,
}
CURVES = {"method": pl.String, "quantile": pl.Float64, "forecasts": pl.Int64, "stocked": pl.Float64}
CURVES |= {"missing": pl.Float64}
CELL = ["part_no", "origin"]


def as_used(checks: pl.DataFrame) -> pl.DataFrame:
    """Return checks with those of the way in use once more, as a method `AS_USED`; days without it are left out.

    Parameters
    ----------
    checks
        As from `forecast_checks`, one horizon for each part.
    """
    own = checks.filter(pl.col("method").is_in([INSTALLED_BASE, POOLED_RATE]))
    best = own.filter(pl.col("method") == pl.col("method").min().over(CELL))  # "installed base" comes first
    kept = checks.join(best.select(CELL).unique(), on=CELL, how="semi")
    return pl.concat([best.with_columns(method=pl.lit(AS_USED)), kept])


def forecast_scores(checks: pl.DataFrame) -> pl.DataFrame:
    """Hold every method against the way in use, for each part and for all parts together.

    Parameters
    ----------
    checks
        As from `forecast_checks`, one horizon for each part.

    Returns
    -------
    polars.DataFrame
        Snapshot table ``forecast_score``.

    Notes
    -----
    The loss of a forecast is the mean pinball loss of its bounds over the part's mean demand plus a half, so that
    parts of small and of large demand count alike. The difference to the way in use is taken on the same days and
    parts; its error comes from blocks of past days whose horizons do not overlap, and from parts as well: of all parts
    together from whole parts, of a single one from the differences that the other parts have. The larger error counts,
    so that neither one bad day nor one odd part names a winner. Limits and
    p-values are those of Student's law on the number of blocks less one; p-values are adjusted over all parts and
    methods (Benjamini and Hochberg), and those of all parts together among themselves.

    References
    ----------
    .. [1] Diebold and Mariano (1995), Journal of Business and Economic Statistics 13(3), 253-263: comparing forecasts
       by the mean difference of their losses; from memory.
    """
    if checks.is_empty():
        return pl.DataFrame(schema=SCORES)
    told = as_used(checks)
    losses = _losses(told)
    every = losses.with_columns(part_no=pl.lit(EVERY_PART), cluster="part_no")
    single, all_together = (
        pl.DataFrame([*_compared(each)], infer_schema_length=None).with_columns(pl.col(*ERRORS).cast(pl.Float64))
        for each in (losses.with_columns(cluster="part_no"), every)
    )
    compared = pl.concat([_among_parts(single), all_together]).with_columns(**_limits())
    scores = judged(pl.concat([told, told.with_columns(part_no=pl.lit(EVERY_PART))]), ("part_no", "method"))
    joined = scores.join(compared, on=["part_no", "method"])
    whole = pl.col("part_no") == EVERY_PART
    adjusted = pl.concat([_adjusted(joined.filter(whole)), _adjusted(joined.filter(~whole))])
    return (
        adjusted.with_columns(verdict=_verdict())
        .select(pl.col(name).cast(kind) for name, kind in SCORES.items())
        .sort("part_no", "method")
    )


def shortage_curves(checks: pl.DataFrame) -> pl.DataFrame:
    """Return what each method's bounds would have kept on the shelf, and what would have been missing.

    Parameters
    ----------
    checks
        As from `forecast_checks`, one horizon for each part.

    Returns
    -------
    polars.DataFrame
        Snapshot table ``shortage_curve``: `method`, `quantile`, `forecasts`, `stocked` (parts kept, mean of a part and
        day), `missing` (of 100 parts asked for). Only methods that foretold every part on every day the way in use did.
    """
    if checks.is_empty():
        return pl.DataFrame(schema=CURVES)
    told = as_used(checks)
    needed = pl.col("happened").sum()
    short = (pl.col("happened") - pl.col("stated")).clip(0).sum()
    curves = told.group_by("method", "quantile").agg(
        forecasts=pl.len().cast(pl.Int64),
        stocked=pl.col("stated").mean(),
        missing=pl.when(needed > 0).then(100 * short / needed),
    )
    whole = curves.filter(pl.col("method") == AS_USED)["forecasts"].max()
    return curves.filter(pl.col("forecasts") == whole).sort("method", "quantile")


def _losses(told: pl.DataFrame) -> pl.DataFrame:
    """Return `part_no`, `origin`, `method`, `loss` (scaled), `apart` (days that a horizon reaches over, at least 1)."""
    days = told["origin"].unique().sort()
    gap = float(np.diff(days.to_physical().to_numpy()).min()) if len(days) > 1 else float("inf")
    usual = told.filter(pl.col("method") == AS_USED).group_by("part_no").agg(usual=pl.col("happened").mean())
    return (
        told.group_by(*CELL, "method")
        .agg(loss=pl.col("score").mean(), horizon=pl.col("horizon_days").first())
        .join(usual, on="part_no")
        .with_columns(
            loss=pl.col("loss") / (pl.col("usual") + 0.5),
            apart=(pl.col("horizon") / gap).ceil().clip(1).cast(pl.Int64),
        )
    )


def _compared(losses: pl.DataFrame) -> Iterator[dict[str, object]]:
    """Yield a row per group and method: the mean loss over that of the way in use, with limits and p-value."""
    used = losses.filter(pl.col("method") == AS_USED).select("part_no", "cluster", "origin", used="loss")
    paired = losses.join(used, on=["part_no", "cluster", "origin"])
    by = ["part_no", "method"]
    for (part, method), rows in paired.sort(*by, "origin", "cluster").group_by(by, maintain_order=True):
        yield {"part_no": part, "method": method, **_difference(rows)}


def _difference(rows: pl.DataFrame) -> dict[str, object]:
    """Compare one method with the way in use, over days and parts."""
    days = rows["origin"].unique().sort()
    blocks = rows["origin"].to_frame().join(days.to_frame().with_row_index("at"), on="origin", maintain_order="left")
    block = blocks["at"].to_numpy() // int(rows["apart"].to_numpy().max())
    parts = rows["cluster"].rank("dense").to_numpy() - 1
    usual = float(rows["used"].to_numpy().mean())
    difference = (rows["loss"] - rows["used"]).to_numpy()
    own = rows["method"][0] in (AS_USED, INSTALLED_BASE, POOLED_RATE) and not difference.any()
    counted = {"parts": rows["cluster"].n_unique(), "days": len(days), "blocks": int(block.max()) + 1, "own": own}
    counted["alone"] = False
    if own or usual == 0:
        return {**counted, **NOT_TESTED, "usual": usual if usual > 0 else None}
    ways = [block, parts] if counted["parts"] > 1 else [block]
    mean, half, p = float(difference.mean()), 0.0, 0.0
    for groups in ways:
        wide, chance = _error(difference, groups.astype(np.int64))
        half, p = max(half, wide), max(p, chance)
    return {**counted, "off": mean, "usual": usual, "half": half, "p_value": p}


def _among_parts(single: pl.DataFrame) -> pl.DataFrame:
    """Hold each part's difference against those of the other parts too: the larger error counts.

    Neighbouring days learn from nearly the same records, so that a way which happens to lie near the truth of a part
    lies there on all of them; what luck of that kind comes to is seen between parts alone.
    """
    tested = single.filter(pl.col("off").is_not_null())
    others = pl.len().over("method") - 1
    spread = (((pl.col("off") ** 2).sum().over("method") - pl.col("off") ** 2).clip(0) / others.clip(1)).sqrt()
    known = tested.with_columns(others=others, spread=spread)
    many, wide, off = (known[name].to_numpy() for name in ("others", "spread", "off"))
    enough = many + 1 >= LEAST_PARTS
    free = np.maximum(many, 1)
    chance = np.where(wide > 0, 2 * student.sf(np.abs(off) / np.where(wide > 0, wide, 1.0), free), off == 0)
    half = np.maximum(known["half"].to_numpy(), student.ppf((1 + CONFIDENCE) / 2, free) * wide)
    larger = known.drop("others", "spread").with_columns(
        half=pl.Series(half),
        p_value=pl.Series(np.maximum(known["p_value"].to_numpy(), chance)),
        alone=pl.Series(~enough),
    )
    return pl.concat([larger, single.filter(pl.col("off").is_null())])


def _limits() -> dict[str, pl.Expr]:
    """Return ratio, limits and p-value, null where days or parts are too few to tell."""
    off, usual, half = (pl.col(name) for name in ("off", "usual", "half"))
    known = (pl.col("blocks") >= LEAST_DAYS) & ~pl.col("alone") & half.is_finite()
    return {
        "loss_ratio": pl.when(pl.col("own")).then(1.0).otherwise(1 + off / usual),
        "lower": pl.when(known).then((1 + (off - half) / usual).clip(0)),
        "upper": pl.when(known).then(1 + (off + half) / usual),
        "p_value": pl.when(known).then("p_value"),
        "few": ~known & ~pl.col("own"),
    }


def _error(difference: Floats, groups: NDArray[np.int64]) -> tuple[float, float]:
    """Return half the width of the limits of the mean difference, and its p-value, from sums over groups."""
    sums = np.bincount(groups, weights=difference)
    held = np.bincount(groups)
    many = int((held > 0).sum())
    if many < 2:
        return float("inf"), 1.0
    off = sums - held * difference.mean()
    spread = float(np.sqrt((off**2).sum() * many / (many - 1)) / difference.size)
    if spread == 0:
        return 0.0, float(difference.mean() == 0)
    ratio = abs(float(difference.mean())) / spread
    return float(student.ppf((1 + CONFIDENCE) / 2, many - 1)) * spread, float(2 * student.sf(ratio, many - 1))


def _adjusted(rows: pl.DataFrame) -> pl.DataFrame:
    return rows.with_columns(adjust_p_values(rows["p_value"])["adjusted_p"])


def _verdict() -> pl.Expr:
    """Return what is said of a method beside the way in use."""
    sure = pl.col("adjusted_p") <= SURE
    return (
        pl.when(pl.col("own"))
        .then(pl.lit("in use"))
        .when("few")
        .then(pl.lit("too few"))
        .when(sure & (pl.col("loss_ratio") < 1))
        .then(pl.lit("better"))
        .when(sure & (pl.col("loss_ratio") > 1))
        .then(pl.lit("worse"))
        .otherwise(pl.lit("within chance"))
    )
