"""The column mapping: what a TOML file says about turning someone's export into the native feed."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from analytics.records.reading import ReadOptions

if TYPE_CHECKING:
    from analytics.records.text_rules import TextRules

DateOrder = Literal["iso", "dmy", "mdy", "ym"]
DATE_ORDERS: tuple[DateOrder, ...] = ("iso", "dmy", "mdy", "ym")

UNITS: dict[str, tuple[str, ...]] = {"odometer": ("km", "mi"), "labour_minutes": ("min", "h")}
"""Units a mapping may state, by native column; the first is the native one."""

KEYED_HASH = "keyed hash"
"""What a mapping may say of vehicle ids."""

KEEP_TEXT = "keep"
"""What a mapping may say of free text: nobody private is concerned, so it is not searched."""

ANY_OTHER = "*"
"""Key of a value list: the word for every value that is not listed."""


@dataclass(frozen=True, slots=True)
class Format:
    """How dates and numbers of one block are written.

    Attributes
    ----------
    date_order
        ``iso`` (also year-month and bare year), ``dmy``, ``mdy``, or ``ym`` for months with the year first or last.
    decimal, thousands
        Decimal mark and thousands mark; an empty thousands mark means there is none, an empty decimal mark that
        nobody stated it: a native feed in which ``61.240`` is set aside.
    two_digit_years
        First year of the hundred that two-digit years lie in; 0 = such dates are not read.
    """

    date_order: DateOrder = "iso"
    decimal: str = "."
    thousands: str = ""
    two_digit_years: int = 0


NOT_STATED = Format(decimal="")
"""A native feed without a word on how it is written."""


@dataclass(frozen=True, slots=True)
class Block:
    """One file (or sheet) feeding one native table.

    Attributes
    ----------
    table
        Native table.
    file, sheet
        Name or pattern of the files in the feed's folder; sheet of a workbook, empty = its only one.
    columns
        Native column to theirs; ``{n}`` in a name stands for each number in `numbers`.
    constants
        Native column to one value for all rows.
    templates
        Native column to a text with their column names in braces; ``{n}`` and ``{year}`` (of the job) are ours.
    numbers
        Numbers of numbered columns, a row each; empty = one row per row.
    skip_empty
        Native columns; a row in which all of these are empty is skipped.
    units
        Native column to the unit it is written in, as in `UNITS`.
    values
        Native column to their word (lower case) to our word; `ANY_OTHER` for all others.
    placeholders
        Native column to the texts that mean empty: those under ``[settings]`` unless the block names its own.
    text
        Native column to rules that read it out of free text; columns and constants come first.
    drop
        Their columns that are never read further.
    where, skip
        Their column to values: only such rows, and not such rows.
    distinct
        Whether equal rows count once.
    content_id
        Their columns that form ``record_id`` where nothing else does; empty = all mapped ones.
    carried
        Columns that go along untouched: the number of a row on the quarantine sheet.
    read, format
        How the file is written.
    """

    table: str
    file: str
    sheet: str = ""
    columns: dict[str, str] = field(default_factory=dict)
    constants: dict[str, str] = field(default_factory=dict)
    templates: dict[str, str] = field(default_factory=dict)
    numbers: tuple[int, ...] = ()
    skip_empty: tuple[str, ...] = ()
    units: dict[str, str] = field(default_factory=dict)
    values: dict[str, dict[str, str]] = field(default_factory=dict)
    placeholders: dict[str, tuple[str, ...]] = field(default_factory=dict)
    text: dict[str, TextRules] = field(default_factory=dict)
    drop: tuple[str, ...] = ()
    where: dict[str, tuple[str, ...]] = field(default_factory=dict)
    skip: dict[str, tuple[str, ...]] = field(default_factory=dict)
    distinct: bool = False
    content_id: tuple[str, ...] = ()
    carried: tuple[str, ...] = ()
    read: ReadOptions = field(default_factory=ReadOptions)
    format: Format = field(default_factory=Format)

    @property
    def filled(self) -> set[str]:
        """Native columns this block fills."""
        return {*self.columns, *self.constants, *self.templates, *self.text}


@dataclass(frozen=True, slots=True)
class Settings:
    """What the ``[settings]`` of a mapping may say; None = not said.

    Attributes
    ----------
    odometer_unit
        Unit of an odometer figure that carries none: ``km`` or ``mi``.
    currency
        ISO 4217 code of a cost that carries none.
    display_unit
        Unit pages show distances in: ``km`` or ``mi``.
    service_level
        Share of lead times in which stock is to last, 0.5 to 0.999.
    review_days
        Days between two looks at the stock, 1 to 730.
    holding_share
        Cost of a part on the shelf for a year, as a share of its price, 0 to 1.
    order_cost, shortage_cost
        Cost of an order, and of a part asked for in vain; 0 or more.
    vehicle_id
        `KEYED_HASH` = a keyed hash takes the place of every vehicle id before the feed is kept.
    free_text
        `KEEP_TEXT` = free text is not searched for telephone numbers, e-mail addresses and number plates.
    """

    odometer_unit: str | None = None
    currency: str | None = None
    display_unit: str | None = None
    service_level: float | None = None
    review_days: int | None = None
    holding_share: float | None = None
    order_cost: float | None = None
    shortage_cost: float | None = None
    vehicle_id: str | None = None
    free_text: str | None = None

    def as_dict(self) -> dict[str, str | int | float]:
        """Return name and value of what was said."""
        said = {name: getattr(self, name) for name in self.__slots__}
        return {name: value for name, value in said.items() if value is not None}


@dataclass(frozen=True, slots=True)
class Mapping:
    """A whole mapping file.

    Attributes
    ----------
    source
        Word that tells record numbers of this export from those of others; empty = native.
    settings
        What the mapping's ``[settings]`` say.
    blocks
        One per native table and file; none = the feed is native and only the settings are stated.
    where
        Name of the mapping file, for messages.
    format
        How a native feed without blocks is written.
    placeholders
        Native column of any table to the texts that mean empty, as the ``[settings]`` say.
    """

    source: str
    settings: Settings
    blocks: tuple[Block, ...]
    where: str
    format: Format = NOT_STATED
    placeholders: dict[str, tuple[str, ...]] = field(default_factory=dict)
