"""How good the forecasts of past days were, in words; no winner is named where chance could have made it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from dashboards import words
from dashboards.answers.said import Said

if TYPE_CHECKING:
    from datetime import date

    from dashboards.answers.said import Row
    from dashboards.words import State

AS_USED, EVERY_PART = "as used", "all"
SIMPLE = ("moving average", "Croston", "SBA", "TSB")
"""Ways that look at the use of each month alone."""

BOUND = "held_90"
AHEAD, MANY_DAYS = 1.10, 8
FIRM_FORECASTS = 20
"""Forecasts from which the share of bounds that held is told in ink (judgement)."""

VERDICTS = {
    "in use": "in use",
    "better": "better beyond chance",
    "worse": "worse beyond chance",
    "within chance": "no difference beyond chance",
    "too few": "too few days or parts to tell",
}
NOT_YET = (
    "Nobody has held the forecasts of past days against what happened yet: run `wearledger backtest`. It makes them "
    "again, from what was known then, and takes some minutes."
)
LOSS = (
    "Loss: parts missing and parts left over, weighed as the bounds ask for and against the part's usual demand; the "
    "smaller the better. Could be: 90 % limits, over past days and over parts."
)


def told_of_all(scores: pl.DataFrame, until: date) -> Said:
    """Say how often the bound held on past days, and whether any other way was better.

    Parameters
    ----------
    scores
        Rows of ``forecast_score``.
    until
        The snapshot's day.
    """
    every = scores.filter(pl.col("part_no") == EVERY_PART)
    used = every.filter(pl.col("method") == AS_USED).row(0, named=True)
    said = (
        f"{_days(used).capitalize()}, what should be enough in 18 of 20 cases was enough in "
        f"{words.of_hundred(used[BOUND])}. {_ahead(every)}"
    )
    facts = [f"**{words.count(used['forecasts'], 'forecast')}**", words.count(used["parts"], "part")]
    state: State = "ink" if used["forecasts"] >= FIRM_FORECASTS else "pencil"
    return Said(
        state, said, words.evidence(state, [*facts, _past(used["days"])], until), (_could_not_be_told(every), LOSS)
    )


def _days(row: Row) -> str:
    return f"on {_past(row['days'])}"


def _past(days: int) -> str:
    return words.count(days, "past day")


def _held(row: Row) -> str:
    return f"{round(row[BOUND] * row['forecasts'])} of {words.count_figure(row['forecasts'], 'past day')}"


def _ahead(rows: pl.DataFrame) -> str:
    """Name the ways that were better beyond chance, or say that none was."""
    better = rows.filter(pl.col("verdict") == "better").sort("loss_ratio")
    if better.is_empty():
        few = (rows["verdict"] == "too few").any()
        return "So few days name no better way." if few else "No other way was better beyond chance."
    told = [
        f"{row['method']} lost {words.two(row['loss_ratio'])} times as much" for row in better.iter_rows(named=True)
    ]
    return f"Better beyond chance: {', '.join(told)}."


def _could_not_be_told(rows: pl.DataFrame) -> str:
    """Say how large a difference could have stayed unseen, by the widest limits."""
    known = rows.drop_nulls(["lower", "upper"]).filter(pl.col("verdict") == "within chance")
    if known.is_empty():
        return ""
    wide = float((known["upper"] - known["lower"]).to_numpy().max()) / 2
    return (
        f"With these days and parts a difference of {words.of_hundred(min(wide, 1.0))} of the loss can hide in chance."
    )


def shown(scores: pl.DataFrame, curves: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Leave out a way that is the one in use by another name, so that no line is drawn twice."""
    every = (pl.col("part_no") == EVERY_PART) & (pl.col("method") != AS_USED) & (pl.col("verdict") == "in use")
    again = scores.filter(every)["method"].to_list()
    whole = pl.col("part_no") == EVERY_PART
    return scores.filter(~(whole & pl.col("method").is_in(again))), curves.filter(~pl.col("method").is_in(again))


def methods_listed(scores: pl.DataFrame) -> pl.DataFrame:
    """Return every way of all parts together in shown columns, the least loss first."""
    every = scores.filter(pl.col("part_no") == EVERY_PART).sort("loss_ratio", "method", nulls_last=True)
    return pl.DataFrame(
        [
            {
                "way": row["method"],
                "forecasts": row["forecasts"],
                "18 of 20 held in": words.of_hundred(row[BOUND]),
                "loss beside ours": _beside(row),
                "verdict": VERDICTS.get(row["verdict"], row["verdict"]),
            }
            for row in every.iter_rows(named=True)
        ]
    )


def _beside(row: Row) -> str:
    if row["loss_ratio"] is None or row["verdict"] == "in use":
        return ""
    ratio = f"{row['loss_ratio']:.2f} times"
    return ratio if row["lower"] is None else f"{ratio} (could be {row['lower']:.2f} to {row['upper']:.2f})"


def told_of_part(scores: pl.DataFrame, part: str) -> str:
    """Say how the forecasts of one part did, and which way earned its place for it."""
    own = scores.filter(pl.col("part_no") == part)
    used = own.filter(pl.col("method") == AS_USED)
    if used.is_empty():
        return ""
    row = used.row(0, named=True)
    told = f"{part}: the bound held on {_held(row)}; {earned(own)}."
    return f"{told}{_rate_ahead(own)}"


def _rate_ahead(own: pl.DataFrame) -> str:
    """Say where the rate of use alone was ahead by more than a tenth over many days."""
    ahead = own.filter(
        (pl.col("method") == "pooled rate") & (pl.col("loss_ratio") * AHEAD < 1) & (pl.col("days") >= MANY_DAYS)
    )
    if ahead.is_empty():
        return ""
    row = ahead.row(0, named=True)
    chance = "" if row["verdict"] == "better" else ", which chance alone can make"
    return (
        f" Its rate of use alone lost {words.two(row['loss_ratio'])} times as much{chance}; a change of part, a "
        "campaign or cars that left could be behind it."
    )


def earned(rows: pl.DataFrame) -> str:
    """Say which way earned its place for a part.

    Parameters
    ----------
    rows
        Rows of ``forecast_score`` of one part.
    """
    by = {name: rows.filter(pl.col("verdict") == name)["method"].to_list() for name in VERDICTS}
    if by["better"]:
        return f"{' and '.join(by['better'])} did better than what is used, beyond chance"
    if by["too few"]:
        return "too few days or parts to tell one way from another"
    simple = [name for name in SIMPLE if name in by["worse"]]
    if len(simple) == len(SIMPLE):
        return "what is used earned its place: every simple way lost more, beyond chance"
    if simple:
        return f"what is used did better than {', '.join(simple)}; the others cannot be told from it"
    return "no way can be told from another"


def parts_listed(scores: pl.DataFrame) -> pl.DataFrame:
    """Return every part in shown columns: how often its bound held, and which way earned its place."""
    used = scores.filter((pl.col("method") == AS_USED) & (pl.col("part_no") != EVERY_PART)).sort("part_no")
    return pl.DataFrame(
        [
            {
                "part_no": row["part_no"],
                "18 of 20 held on": _held(row),
                "which way": earned(scores.filter(pl.col("part_no") == row["part_no"])),
            }
            for row in used.iter_rows(named=True)
        ],
        schema={"part_no": pl.String, "18 of 20 held on": pl.String, "which way": pl.String},
    )
