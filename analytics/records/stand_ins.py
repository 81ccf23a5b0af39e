"""Texts that stand where a value is not: signs of spreadsheet errors, placeholders, texts that were not kept."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    from analytics.records.values import Reading

ERROR_SIGNS = ("#NAME?", "#REF!", "#DIV/0!", "#N/A", "#NULL!", "#NUM!", "#VALUE!", "#GETTING_DATA", "#ERROR!")
"""What a spreadsheet program shows for a formula that went wrong; exports to CSV carry it as text."""

PLACEHOLDER = "(placeholder) "
"""Beginning of a text that the mapping calls a placeholder, in a column that must be filled."""

PRIVATE = "(not kept: "
"""Beginning of what takes the place of a free text that may tell a person."""

SAYS_ERROR = "is the sign of a formula that went wrong: mend it in the spreadsheet, or write the value itself"
SAYS_PLACEHOLDER = "stands for no value, as the mapping says: write the true one"
SAYS_PRIVATE = (
    "the text may tell a person and was not kept: take that out of it in the export; where nobody private is "
    'concerned, state free_text = "keep" under [settings] of a mapping'
)


def may_hold_stand_ins(texts: pl.Series) -> bool:
    """Return whether a column holds a text that may be a stand-in, by its first character."""
    return bool((texts.str.starts_with("#") | texts.str.starts_with("(")).any())


def without_stand_ins(reading: Reading, text: pl.Expr) -> Reading:
    """Return a reading in which a stand-in gives no value and says why.

    Parameters
    ----------
    reading
        How the column is read otherwise.
    text
        Its text.
    """
    says = (
        pl.when(text.is_in(ERROR_SIGNS))
        .then(pl.lit(SAYS_ERROR))
        .when(text.str.starts_with(PLACEHOLDER))
        .then(pl.lit(SAYS_PLACEHOLDER))
        .when(text.str.starts_with(PRIVATE))
        .then(pl.lit(SAYS_PRIVATE))
    )
    value = pl.when(says.is_null()).then(reading.value)
    return replace(
        reading,
        value=value,
        says=pl.coalesce(says, reading.says.cast(pl.String)),
        inferred=reading.inferred & says.is_null(),
    )
