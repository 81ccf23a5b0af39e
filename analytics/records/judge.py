"""Judge the mapped rows of one table: accepted with types, values set aside alone, rows quarantined (rules 1 and 3)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from analytics.records.blocks import CONTENT_ID, NOT_KEPT, UNREAD, UNREAD_TEXT
from analytics.records.feed import FEED
from analytics.records.stand_ins import may_hold_stand_ins, without_stand_ins
from analytics.records.values import RESERVED, read_column

if TYPE_CHECKING:
    from collections.abc import Mapping as Named
    from datetime import date

    from analytics.records.table import Column, Table

NOT_LOADED_WITHOUT = {"repairs": ("action", "reason")}
"""Optional columns whose unknown words cost the row: guessing them would change what is counted (rule 3)."""

HOME_UNIT = "km"
"""Unit of an odometer figure where neither the row nor the mapping says one."""

SET_ASIDE = {"row_no": pl.Int64, "file": pl.String, "column": pl.String, "value": pl.String, "says": pl.String}


@dataclass(frozen=True, slots=True)
class Judged:
    """What became of the rows of one table.

    Attributes
    ----------
    accepted
        All native columns with their types, ``file``, ``row_no``, and ``inferred``: names of columns that were filled
        in or completed, joined by ``;``, null where none was.
    quarantined
        A row per refused row: ``row_no``, ``file``, the first ``column`` that cost it with its ``value``, ``says``
        (every reason), and, for repairs, ``vehicle_id``, ``day`` and ``planned`` where they can be read; ``row`` is
        the mapped row as JSON text. Of a row that could not be split, ``column`` is empty, ``value`` its whole text,
        and ``row`` holds that text as ``unread text``.
    set_aside
        A row per value that was left out of an accepted row: ``row_no``, ``file``, ``column``, ``value``, ``says``.
    """

    accepted: pl.DataFrame
    quarantined: pl.DataFrame
    set_aside: pl.DataFrame


def judge(
    table_name: str, text_frame: pl.DataFrame, *, loaded_on: date, settings: Named[str, str | int | float]
) -> Judged:
    """Judge every row of a mapped table by its own values.

    Parameters
    ----------
    table_name
        Native table.
    text_frame
        String columns (those native columns that are there), ``file``, ``row_no``; perhaps what says that
        a row could not be split: ``unread`` and ``unread text``.
    loaded_on
        Day of loading; nothing that has happened is later.
    settings
        What the mapping says of default units (`MappedFeed.settings`).

    Returns
    -------
    Judged
        ``accepted`` and ``quarantined`` together have as many rows as `text_frame`, in its order.

    Notes
    -----
    A row is quarantined only if a required value is missing or cannot be read, if ``closed_on`` or another required
    day lies after the day of loading, if action or reason is not on the list, or if the row could not be split.
    Every other value that cannot be read is set aside alone. Cars nobody declared and numbers that start again
    (rule 5) need the whole ledger and are judged there.
    """
    table = FEED[table_name]
    staged = read_rows(table, text_frame, loaded_on)
    staged = _compare(table, staged)
    staged = _fill(table, staged, settings)
    required = [f"lacks {column.name}" for column in table.columns if not column.nullable]
    staged = staged.with_columns(pl.col(name[6:]).is_null().alias(name) for name in required)
    costly = [f"says {name}" for name in NOT_LOADED_WITHOUT.get(table_name, ())]
    refused = pl.col(UNREAD).is_not_null() | pl.any_horizontal(
        pl.lit(value=False), *required, *(pl.col(name).is_not_null() for name in costly)
    )
    bad = staged.filter(refused)
    good = staged.filter(~refused) if bad.height else staged
    accepted = good.select(*table.names, "file", "row_no", _inferred(table, good))
    return Judged(accepted, _quarantine(table, bad), _set_aside(table, good))


def read_rows(table: Table, text_frame: pl.DataFrame, loaded_on: date) -> pl.DataFrame:
    """Return ``file`` and ``row_no``, and text, value, says and inferred of every column of the table, row by row.

    Parameters
    ----------
    table
        Declared table, or some columns of one.
    text_frame
        As for `judge`.
    loaded_on
        Day of loading.
    """
    there = set(text_frame.columns)
    texts = [
        (pl.col(name).str.strip_chars() if name in there else pl.lit(None, dtype=pl.String)).alias(f"text {name}")
        for name in table.names
    ]
    unread = [
        (pl.col(name) if name in there else pl.lit(None, dtype=pl.String)).alias(name) for name in (UNREAD, UNREAD_TEXT)
    ]
    frame = text_frame.select("file", "row_no", *unread, *texts)
    frame = frame.with_columns(
        pl.when(pl.col(f"text {name}") != "").then(pl.col(f"text {name}")).alias(f"text {name}")
        for name in table.names
        if name in there
    )
    read = [_read_column(frame.get_column(f"text {column.name}"), column, loaded_on) for column in table.columns]
    return pl.concat([frame, *read], how="horizontal")


def _read_column(text: pl.Series, column: Column, loaded_on: date) -> pl.DataFrame:
    """Read days and listed words once each, for they repeat; say what is wrong only where something is."""
    name = column.name
    every = text.to_frame()
    repeats = column.kind in {"date", "yes_no"} or bool(column.values) or name in RESERVED
    once = every.unique() if repeats else every
    reading = read_column(column, pl.col(text.name), loaded_on)
    if may_hold_stand_ins(once.to_series()):
        reading = without_stand_ins(reading, pl.col(text.name))
    found = once.with_columns(
        reading.value.cast(column.dtype).alias(name),
        reading.inferred.fill_null(value=False).alias(f"inferred {name}"),
    )
    refused = found.filter(pl.col(text.name).is_not_null() & pl.col(name).is_null()).height
    says = reading.says.cast(pl.String) if refused else pl.lit(None, dtype=pl.String)
    found = found.with_columns(says.alias(f"says {name}"))
    if repeats:
        found = every.join(found, on=text.name, how="left", nulls_equal=True, maintain_order="left")
    return found.drop(text.name)


def _compare(table: Table, staged: pl.DataFrame) -> pl.DataFrame:
    """Set aside the value that cannot be true beside another one of its row."""
    for name, contradicted, says in _contradictions(table):
        staged = staged.with_columns(
            pl.when(contradicted.fill_null(value=False)).then(None).otherwise(pl.col(name)).alias(name),
            pl.coalesce(pl.col(f"says {name}"), pl.when(contradicted).then(pl.lit(says))).alias(f"says {name}"),
        )
    return staged


def _contradictions(table: Table) -> list[tuple[str, pl.Expr, str]]:
    col = pl.col
    known: dict[str, list[tuple[str, pl.Expr, str]]] = {
        "vehicles": [("left_on", _latest("left_on") < _earliest("built_on"), "is before the car was built")],
        "repairs": [("opened_on", col("opened_on") > col("closed_on"), "is after closed_on")],
        "fitted": [("fitted_to", _latest("fitted_to") < _earliest("fitted_from"), "is before fitted_from")],
        "limits": [("upper", col("upper") < col("lower"), "is below the lower limit")],
        "opinions": [
            ("first_years", col("first_years") <= 0, "is not above 0"),
            ("first_good", col("first_good") >= 10, "leaves no doubt: write at most 9.9"),
            ("second_years", col("second_years") <= col("first_years"), "is not later than first_years"),
            ("second_good", col("second_good") >= col("first_good"), "is not fewer than first_good"),
            ("second_good", col("second_good") <= 0, "leaves no doubt: write at least 0.1"),
            ("cars", col("cars") <= 0, "is not above 0"),
        ],
        "parts": [
            (
                "lead_time_p90_days",
                col("lead_time_p90_days") < col("lead_time_days"),
                "is less than the median lead time",
            )
        ],
    }
    found = known.get(table.name, [])
    if "odometer_unit" in table.names:
        unit_unknown = col("says odometer_unit").is_not_null() & col("odometer").is_not_null()
        found = [*found, ("odometer", unit_unknown, "has a unit that is neither km nor mi")]
    return found


def _earliest(name: str) -> pl.Expr:
    """Return the first day that a day, or a year or month of which only the middle is known, may mean (rule 1)."""
    day = pl.col(name)
    of_year = pl.when(day.dt.day() == 1).then(day.dt.truncate("1y")).otherwise(day.dt.month_start())
    return pl.when(pl.col(f"inferred {name}")).then(of_year).otherwise(day)


def _latest(name: str) -> pl.Expr:
    """Return the last day that a day, year or month may mean."""
    first = _earliest(name)
    day = pl.col(name)
    end = pl.when(day.dt.day() == 1).then(first.dt.offset_by("1y").dt.offset_by("-1d")).otherwise(day.dt.month_end())
    return pl.when(pl.col(f"inferred {name}")).then(end).otherwise(day)


def _fill(table: Table, staged: pl.DataFrame, settings: Named[str, str | int | float]) -> pl.DataFrame:
    """Fill in what the declaration or the mapping says of empty values, and mark it."""
    fillings = [(c.name, pl.lit(c.default, dtype=c.dtype), c.name) for c in table.columns if c.default is not None]
    if "odometer_unit" in table.names:
        fillings.append(("odometer_unit", pl.lit(str(settings.get("odometer_unit", HOME_UNIT))), "odometer"))
    if "currency" in table.names and "currency" in settings:
        priced = "cost" if "cost" in table.names else "unit_cost"
        fillings.append(("currency", pl.lit(str(settings["currency"])), priced))
    for name, word, beside in fillings:
        beside_there = pl.lit(value=True) if beside == name else pl.col(beside).is_not_null()
        empty = pl.col(f"text {name}").is_null() & beside_there
        if not _required(table.column(name)):
            empty = pl.col(name).is_null() & beside_there
        staged = staged.with_columns(
            pl.when(empty).then(word).otherwise(pl.col(name)).alias(name),
            (pl.col(f"inferred {name}") | empty).alias(f"inferred {name}"),
        )
    if table.name == "repairs":
        formed = pl.col("record_id").str.starts_with(CONTENT_ID).fill_null(value=False)
        staged = staged.with_columns(formed.alias("inferred record_id"))
    return staged


def _required(column: Column) -> bool:
    return not column.nullable


def _inferred(table: Table, good: pl.DataFrame) -> pl.Expr:
    names = [
        pl.when(pl.col(f"inferred {name}") & pl.col(name).is_not_null()).then(pl.lit(name))
        for name in table.names
        if good.get_column(f"inferred {name}").any()
    ]
    if not names:
        return pl.lit(None, dtype=pl.String).alias("inferred")
    joined = pl.concat_str(names, separator=";", ignore_nulls=True)
    return pl.when(joined != "").then(joined).alias("inferred")


def _set_aside(table: Table, good: pl.DataFrame) -> pl.DataFrame:
    parts = [
        good.filter(pl.col(f"says {name}").is_not_null()).select(
            "row_no",
            "file",
            column=pl.lit(name),
            value=f"text {name}",
            says=_sentence(table, name),
        )
        for name in table.names
        if good.get_column(f"says {name}").count()
    ]
    return pl.concat([pl.DataFrame(schema=SET_ASIDE), *parts]).sort("file", "row_no", maintain_order=True)


def _sentence(table: Table, name: str) -> pl.Expr:
    meaning = table.column(name).meaning
    return pl.format("{} ({}): '{}' {}", pl.lit(name), pl.lit(meaning), pl.col(f"text {name}"), pl.col(f"says {name}"))


def _quarantine(table: Table, bad: pl.DataFrame) -> pl.DataFrame:
    """One row per refused row; the reasons stand in the order of the columns."""
    reasons: list[pl.Expr] = []
    firsts: list[pl.Expr] = [pl.when(pl.col(UNREAD).is_not_null()).then(pl.lit(""))]
    values: list[pl.Expr] = [pl.when(pl.col(UNREAD).is_not_null()).then(pl.col(UNREAD_TEXT).fill_null(NOT_KEPT))]
    for column in table.columns:
        name = column.name
        if column.nullable and name not in NOT_LOADED_WITHOUT.get(table.name, ()):
            continue
        wrong = pl.col(f"says {name}").is_not_null()
        empty = pl.col(f"lacks {name}") if not column.nullable else pl.lit(value=False)
        missing = pl.lit(f"{name} ({column.meaning}) is empty")
        reasons.append(pl.when(wrong).then(_sentence(table, name)).when(empty).then(missing))
        firsts.append(pl.when(wrong | empty).then(pl.lit(name)))
        values.append(pl.when(wrong | empty).then(pl.col(f"text {name}").fill_null("")))
    says = pl.coalesce(UNREAD, pl.concat_str(reasons, separator="; ", ignore_nulls=True))
    texts = pl.struct(pl.col(f"text {name}").alias(name) for name in table.names)
    repairs = table.name == "repairs"
    return bad.select(
        "row_no",
        "file",
        column=pl.coalesce(firsts),
        value=pl.coalesce(values),
        says=says,
        vehicle_id=pl.col("vehicle_id") if "vehicle_id" in table.names else pl.lit(None, dtype=pl.String),
        day=pl.coalesce("opened_on", "closed_on") if repairs else pl.lit(None, dtype=pl.Date),
        planned=(pl.col("reason") == "planned").fill_null(value=False) if repairs else pl.lit(value=False),
        row=pl.when(pl.col(UNREAD_TEXT).is_not_null())
        .then(pl.struct(UNREAD_TEXT).struct.json_encode())
        .otherwise(texts.struct.json_encode()),
    )
