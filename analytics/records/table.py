"""Declare a table once: its columns, units, key and rules; check any frame against it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import polars as pl

Kind = Literal["text", "date", "number", "whole", "yes_no", "instant"]

DTYPES: dict[Kind, type[pl.DataType]] = {
    "text": pl.String,
    "date": pl.Date,
    "number": pl.Float64,
    "whole": pl.Int64,
    "yes_no": pl.Boolean,
    "instant": pl.Datetime,
}

SQL_TYPES: dict[Kind, str] = {
    "text": "VARCHAR",
    "date": "DATE",
    "number": "DOUBLE",
    "whole": "BIGINT",
    "yes_no": "BOOLEAN",
    "instant": "TIMESTAMP",
}


@dataclass(frozen=True, slots=True)
class Column:
    """One column: what it means, in which unit, and what it may hold.

    Attributes
    ----------
    name
        Column name, as in files and in SQL.
    kind
        ``text``, ``date``, ``number``, ``whole`` (integer), ``yes_no`` or ``instant``.
    meaning
        One phrase for people who must fill it or read it.
    unit
        Unit of the values, empty where there is none.
    nullable
        Whether it may be empty.
    values
        The words it may hold, empty = any.
    default
        Value taken (and marked) where it is empty, None = stays empty.
    """

    name: str
    kind: Kind
    meaning: str
    unit: str = ""
    nullable: bool = True
    values: tuple[str, ...] = ()
    default: str | int | float | None = None

    @property
    def dtype(self) -> type[pl.DataType]:
        """Polars type of the column."""
        return DTYPES[self.kind]

    @property
    def sql_type(self) -> str:
        """DuckDB type of the column."""
        return SQL_TYPES[self.kind]


@dataclass(frozen=True, slots=True)
class Rule:
    """A named condition every row must meet; `says` is shown to the person who must fix it."""

    name: str
    holds: pl.Expr
    says: str


@dataclass(frozen=True, slots=True)
class Table:
    """A declared table. Reader, ledger, snapshot and documentation are built from it."""

    name: str
    meaning: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]
    rules: tuple[Rule, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Column names in order."""
        return tuple(column.name for column in self.columns)

    @property
    def required(self) -> tuple[str, ...]:
        """Names of the columns that may not be empty."""
        return tuple(column.name for column in self.columns if not column.nullable)

    @property
    def schema(self) -> dict[str, type[pl.DataType]]:
        """Polars schema in column order."""
        return {column.name: column.dtype for column in self.columns}

    def column(self, name: str) -> Column:
        """Return the column of that name.

        Raises
        ------
        KeyError
            If the table has no such column.
        """
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(name)

    @property
    def all_rules(self) -> tuple[Rule, ...]:
        """Return the stated rules plus those implied by the columns and the key."""
        present = (
            Rule(f"{c.name}_present", pl.col(c.name).is_not_null(), f"{c.name} ({c.meaning}) is empty")
            for c in self.columns
            if not c.nullable
        )
        unique = Rule("key_unique", pl.struct(self.key).is_unique(), f"another row has the same {', '.join(self.key)}")
        return (*present, unique, *self.rules)


def failures(frame: pl.DataFrame, table: Table) -> pl.DataFrame:
    """Return one row per broken rule: ``line`` (1 = first data line), ``rule``, ``says``.

    A rule that evaluates to null counts as broken: silence is not consent.
    """
    rules = {rule.name: rule for rule in table.all_rules}
    # nearly always all hold, and all are asked at once
    held = frame.select(rule.holds.fill_null(value=False).all().alias(name) for name, rule in rules.items())
    numbered = frame.with_row_index("line", offset=1)
    broken = [
        numbered.filter(~rules[name].holds.fill_null(value=False)).select(
            pl.col("line").cast(pl.Int64), rule=pl.lit(name), says=pl.lit(rules[name].says)
        )
        for name, all_hold in held.row(0, named=True).items()
        if not all_hold
    ]
    nothing = pl.DataFrame(schema={"line": pl.Int64, "rule": pl.String, "says": pl.String})
    return pl.concat([nothing, *broken]).sort("line", "rule")
