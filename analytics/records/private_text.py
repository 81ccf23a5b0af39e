"""Keep telephone numbers, e-mail addresses and number plates that stand in free text out of everything written."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cached_property, partial
from typing import TYPE_CHECKING

import polars as pl

from analytics.records.blocks import UNREAD, UNREAD_TEXT
from analytics.records.known import part_numbers_of
from analytics.records.mapping import KEEP_TEXT
from analytics.records.parts import Tables, changed, rows_of
from analytics.records.stand_ins import PRIVATE

if TYPE_CHECKING:
    from analytics.records.known import Known
    from analytics.records.mapped import MappedFeed
    from analytics.records.parts import Rows

FREE_TEXT = {"repairs": ("symptom", "finding", "cause", "note")}
"""Columns in which people write what they like."""

SUSPECT = (
    r"\d(?:[ ./()-]{0,3}\d){5}|@|\(at\)|\[at\]|[A-ZÄÖÜ](?:-[A-Z]{0,2}|[A-Z])? ?\d{2}"
    r"|(?i:plate|regist|\breg\b|kennzeichen)"
)
"""Nothing without this is looked at further."""

SHORTEST = 4
"""Characters of a part number that may look like a telephone number or a plate."""

NOT_BEHIND, NOT_BEFORE = r"(?<!\w)(?<!\d[./-])(?<!\d{3} )", r"(?!\w|[./-]\d| \d{3})"
"""Where a part number is a word of its own, and not a piece of a longer number."""

E_MAIL = r"(?i)[\w.+-]+ ?(?:@|\(at\)|\[at\]) ?[\w-]+\.[\w.-]*[a-z]"

PERSON = r"(?:me|him|her|them|us|back|owner|customer|client|wife|husband|son|mrs?|on|at|under)"
BETWEEN = rf"(?:[\s:.,=#]|\b(?:{PERSON}|is|to|no|nr|number)\b)*"
DIGITS = r"\+?\(?\d(?:[ ./()-]{0,2}\d)"
NAMED_TELEPHONE = (
    rf"(?i)\b(?:tel|telephone|phoned?|mob|mobile|whatsapp|sms|fax)\b{BETWEEN}{DIGITS}{{5,14}}",
    rf"(?i)\b(?:rang|ring|call|called)\s+{PERSON}\b{BETWEEN}{DIGITS}{{6,14}}",
)
TELEPHONE = (
    # a country's code: +44 20 7946 0958, 0049 171 1234567
    r"(?:^|[^\w.])\+[1-9]\d{0,2}(?:[ ./()-]{0,2}\d){7,12}\b",
    r"\b00[1-9]\d{1,2}[ /-]\d[\d /-]{6,13}\d\b|\b00[1-9]\d{10,13}\b",
    # an area's code: 01632 960123, 0171/1234567, (020) 7946 0958, 0412 345 678, 0171-1234567, 06 12 34 56 78
    r"\b0[1-9]\d{1,4} ?[ /] ?\d{5,8}\b|\(0\d{1,4}\) ?\d(?:[ -]?\d){4,8}\b",
    r"\b0[1-9]\d{1,4}[ /]\d{3,4}[ -]\d{3,4}\b|\b0[1-9]\d{1,3}-\d{6,8}\b|\b0[1-9](?:[ .-]\d{2}){4}\b",
    # written together; ten digits behind another beginning are a maker's part number
    r"\b0[67]\d{8}\b|\b0[1-9]\d{9,10}\b",
    # 555-123-4567, (555) 123-4567
    r"(?:\(\d{3}\) ?|\b\d{3}[.-])\d{3}[.-]\d{4}\b",
)
TRADE = (
    r"(?i)\b(?:part|p/?n|s/?n|serial|ref|chassis|engine|frame|body|batch|item|order|job|w/?o|invoice|odo|odometer"
    r"|mileage|vin|code|bin|shelf)s?\b\.?(?:[\s.:#=]|\b(?:no|nr|num|number|is|was)\b)*\d[\d ./-]*",
    r"(?i)\b\d[\d .,/-]*(?:km|kms|mi|miles|mm|cm|bar|psi|nm|rpm|hrs?|hours|volts?|v|ohms?|kg|l|litres?|eur|usd|gbp)\b",
    r"(?:^|[^\d./-])(?:\d{1,2}[./-]\d{1,2}[./-]\d{2,4}|\d{4}-\d{2}-\d{2})(?:[^\d./-]|$)",
)
"""Figures of the trade, taken out before a telephone number is looked for that nothing names one."""

PLATE = (
    r"\b[A-Z]{2}\d{2} ?[A-Z]{3}\b",
    r"\b[A-Z]{2}-\d{3}-[A-Z]{2}\b",
    r"\b[A-ZÄÖÜ]{1,3}-[A-Z]{1,2} \d{2,4}[EH]?\b",
    (
        r"(?i)\b(?:reg(?:istration)?\.?(?: ?(?:no|nr|number|mark)\b\.?| ?[:=])|registration"
        r"|(?:number|licen[cs]e|reg)[ -]?plates?|kennzeichen)(?:[\s:.=]|\b(?:is|was|now|no|nr)\b)*"
        r"(?:[A-Z]{1,3}(?:[ -][A-Z]{1,2})?[ -]?\d{1,4}[ -]?[A-Z]{0,3}|\d{1,4}[ -]?[A-Z]{1,3}[ -]?\d{0,4})\b"
    ),
)


def private_kind(text: pl.Expr) -> pl.Expr:
    """Return what of a person a text seems to tell, null where nothing does.

    Examples
    --------
    >>> texts = pl.DataFrame({"note": ["owner on 01632 960123", "fitted 12-345-678 at 61 240 km"]})
    >>> texts.select(private_kind(pl.col("note"))).to_series().to_list()
    ['telephone number', None]
    """
    bare = text
    for pattern in TRADE:
        bare = bare.str.replace_all(pattern, " ; ")
    telephone = pl.any_horizontal(
        *(text.str.contains(each) for each in NAMED_TELEPHONE), *(bare.str.contains(each) for each in TELEPHONE)
    )
    return (
        pl.when(text.str.contains(E_MAIL))
        .then(pl.lit("e-mail address"))
        .when(telephone)
        .then(pl.lit("telephone number"))
        .when(pl.any_horizontal(text.str.contains(each) for each in PLATE))
        .then(pl.lit("number plate"))
    )


def without_private_texts(mapped: MappedFeed, known: Known) -> MappedFeed:
    """Return the feed without free texts that seem to tell a person, unless its mapping says to keep them.

    Parameters
    ----------
    mapped
        The feed after its mapping, before anything of it is written.
    known
        Tells which words are part numbers, beside those in the feed's own part columns: they are no telephone numbers.

    Returns
    -------
    MappedFeed
        In the place of such a text stands what it was; a judge sets that aside. The text of a row that could not be
        split is left out.
    """
    if mapped.settings.get("free_text") == KEEP_TEXT:
        told = f'free text is kept as it is, whatever it tells of a person: free_text = "{KEEP_TEXT}" under [settings]'
        return replace(mapped, notes=(*mapped.notes, told))
    notes: list[str] = []
    rows = {table: rows_of(mapped.tables, table) for table in mapped.tables}
    parts = _Parts(mapped, known)
    for table, each in rows.items():
        free = FREE_TEXT.get(table, ())
        found = {name: _private(texts, parts) for name, texts in _suspects(each, (*free, UNREAD_TEXT)).items()}
        notes += [_told(table, name, found[name]) for name in free if name in found and found[name].height]
        if any(kinds.height for kinds in found.values()):
            rows[table] = changed(each, partial(_masked, found=found))
    return replace(mapped, tables=Tables(rows), notes=(*mapped.notes, *notes))


def _suspects(rows: Rows, names: tuple[str, ...]) -> dict[str, pl.DataFrame]:
    """Return the texts of each column that are to be looked at: ``text`` and how often it stands there."""
    texts: dict[str, list[pl.DataFrame]] = {name: [] for name in names if name in rows.columns}
    for part in rows.only(texts):
        for name, found in texts.items():
            suspects = part.select(text=name).filter(pl.col("text").str.contains(SUSPECT))
            found.append(suspects.group_by("text").len())
    return {name: pl.concat(found).group_by("text").sum() for name, found in texts.items() if found}


def _masked(part: pl.DataFrame, found: dict[str, pl.DataFrame]) -> pl.DataFrame:
    for name, kinds in found.items():
        told = dict(kinds.select("text", "kind").rows())
        if told and name == UNREAD_TEXT:
            part = _unread(part, told)
        elif told:
            part = part.with_columns(pl.col(name).replace({text: f"{PRIVATE}{kind})" for text, kind in told.items()}))
    return part


class _Parts:
    """The part numbers of a feed and of the records before, looked up once and only where a text seems private."""

    def __init__(self, mapped: MappedFeed, known: Known) -> None:
        self.mapped, self.known = mapped, known

    @cached_property
    def numbers(self) -> list[str]:
        """Return those that may look like something else, the longest first."""
        every = part_numbers_of(self.mapped.tables) | self.known.part_numbers()
        return sorted((each for each in every if len(each) >= SHORTEST), key=lambda each: (-len(each), each))

    def taken_out(self, texts: list[str]) -> list[str]:
        """Return the texts without the part numbers that stand in them as words."""
        everything = "\n".join(texts)
        found = [each for each in self.numbers if each in everything]
        if not found:
            return texts
        words = re.compile(rf"{NOT_BEHIND}(?:{'|'.join(re.escape(each) for each in found)}){NOT_BEFORE}")
        return [words.sub(" ; ", text) for text in texts]


def _private(suspects: pl.DataFrame, parts: _Parts) -> pl.DataFrame:
    """Return the private ones of some texts, and the ``kind`` of what each tells."""
    found = suspects.with_columns(kind=private_kind(pl.col("text"))).drop_nulls()
    if found.height:
        bare = pl.Series(parts.taken_out(found["text"].to_list()), dtype=pl.String)
        found = found.with_columns(bare.alias("bare")).with_columns(kind=private_kind(pl.col("bare"))).drop("bare")
    return found.drop_nulls()


def _told(table: str, name: str, found: pl.DataFrame) -> str:
    counts = found.group_by("kind").agg(pl.col("len").sum()).sort("kind")
    shown = ", ".join(f"{kind} {count}" for kind, count in counts.rows())
    return f"{table}: column {name}: texts not kept, because they seem to tell a person: {shown}"


def _unread(frame: pl.DataFrame, kinds: dict[str, str]) -> pl.DataFrame:
    kind = pl.col(UNREAD_TEXT).replace_strict(kinds, default=None, return_dtype=pl.String)
    why = pl.format(
        "{}; its text is not kept, because it seems to hold a person's {}: mend row {} of {} in the file itself",
        UNREAD, kind, "row_no", "file",
    )  # fmt: skip
    return frame.with_columns(
        pl.when(kind.is_null()).then(UNREAD).otherwise(why).alias(UNREAD),
        pl.when(kind.is_null()).then(UNREAD_TEXT).alias(UNREAD_TEXT),
    )
