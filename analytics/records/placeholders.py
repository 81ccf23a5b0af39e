"""Texts that an export writes where it knows nothing: 0, 999999, 1900-01-01, UNKNOWN."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.records.feed import FEED
from analytics.records.notation import TIME_OF_DAY
from analytics.records.stand_ins import PLACEHOLDER

if TYPE_CHECKING:
    from analytics.records.mapping import Block

HIT = "placeholder "
"""Beginning of the column that says whether a row's value was one."""


def take_out(filled: dict[str, pl.Expr], block: Block, number: str) -> dict[str, pl.Expr]:
    """Empty placeholders among what fills a block's columns, in place, and return which rows held one.

    Parameters
    ----------
    filled
        Native column to its text, dates and numbers already rewritten.
    block
        Names placeholders as they stand in the file, or as they are read: ``01.01.1900`` or ``1900-01-01``.
    number
        What ``{n}`` stands for.

    Returns
    -------
    dict of str and Expr
        A column to count by for each native column with placeholders.

    Notes
    -----
    Capitals do not matter, nor do zeros around a number. In a column that must be filled the placeholder stays,
    marked, so that the sentence in quarantine can name it.
    """
    hits = {}
    for name, words in block.placeholders.items():
        if name not in filled:
            continue
        raw = pl.col(block.columns[name].replace("{n}", number)) if name in block.columns else filled[name]
        hit = _is_one(raw, words, name, block.table) | _is_one(filled[name], words, name, block.table)
        hits[f"{HIT}{name}"] = hit = hit.fill_null(value=False)
        column = FEED[block.table].column(name)
        stays = not column.nullable and column.default is None and name not in block.skip_empty
        left = pl.lit(PLACEHOLDER) + raw if stays else pl.lit(None, dtype=pl.String)
        filled[name] = pl.when(hit).then(left).otherwise(filled[name])
    return hits


def counted(rows: pl.DataFrame) -> dict[str, int]:
    """Return in how many rows a placeholder was found, by column."""
    names = [name for name in rows.columns if name.startswith(HIT)]
    found = rows.select(pl.col(name).sum() for name in names).row(0, named=True) if names else {}
    return {name.removeprefix(HIT): int(count) for name, count in found.items()}


def _is_one(text: pl.Expr, words: tuple[str, ...], name: str, table: str) -> pl.Expr:
    kind = FEED[table].column(name).kind
    if kind == "date":
        text = text.str.replace(TIME_OF_DAY, "")
    hit = text.str.to_lowercase().is_in([word.lower() for word in words])
    figures = pl.Series(words, dtype=pl.String).cast(pl.Float64, strict=False).drop_nulls().to_list()
    if kind in {"number", "whole"} and figures:
        hit |= text.cast(pl.Float64, strict=False).is_in(figures)
    return hit
