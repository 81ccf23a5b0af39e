"""Parse a mapping file and refuse, with the known names, whatever it says that we do not know."""

from __future__ import annotations

import string
import tomllib
from dataclasses import replace
from typing import TYPE_CHECKING, Any, cast

from analytics.errors import FeedError
from analytics.records.csv_text import DELIMITERS
from analytics.records.feed import FEED
from analytics.records.mapping import (
    ANY_OTHER,
    DATE_ORDERS,
    UNITS,
    Block,
    DateOrder,
    Format,
    Mapping,
)
from analytics.records.mapping_settings import settings_of
from analytics.records.reading import ReadOptions
from analytics.records.text_rules import TextRules, check_pattern
from analytics.records.toml_values import (
    blocks_of,
    known_keys,
    list_of,
    one_of,
    table_of,
    truth,
    whole,
    word,
    words,
)

if TYPE_CHECKING:
    from pathlib import Path

ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "latin-1")
READ_KEYS = ("encoding", "delimiter", "escape", "heading_line")
FORMAT_KEYS = ("date_order", "decimal", "thousands", "two_digit_years")
BLOCK_KEYS = (
    "file", "sheet", "columns", "constants", "templates", "n", "skip_empty", "units", "values", "placeholders", "text",
    "drop", "where", "skip", "distinct", "content_id", *READ_KEYS, *FORMAT_KEYS,
)  # fmt: skip
TEXT_KEYS = ("from", "remove", "rules", "otherwise")
TableOfWords = dict[str, str]


def parse_mapping(path: Path) -> Mapping:
    """Read a mapping file strictly.

    Parameters
    ----------
    path
        TOML file: ``source``, ``[settings]``, and a ``[[table]]`` block per native table and file; settings alone
        go with a native feed, and may say how it writes dates and numbers.

    Returns
    -------
    Mapping
        Checked against the native tables; files and their columns are checked when the feed is read.

    Raises
    ------
    FeedError
        If the file is missing or no TOML, or names an unknown key, table, column, unit, word or pattern,
        or leaves a required column unfilled.
    """
    if path.is_dir():
        raise FeedError(
            f"{path.name} is a folder, not a mapping",
            where=str(path),
            next_step="name the TOML file itself, as in --mapping shop.toml; the folder of the records comes first",
        )
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError:
        raise FeedError(
            f"there is no mapping file {path.name}", where=str(path), next_step="check the spelling of the path"
        ) from None
    except UnicodeDecodeError:
        raise FeedError("the mapping is not UTF-8 text", where=path.name, next_step="save it as UTF-8") from None
    return parse_mapping_text(text, path.name)


def parse_mapping_text(text: str, where: str) -> Mapping:
    """Read the text of a mapping file strictly; see `parse_mapping`.

    Raises
    ------
    FeedError
        As `parse_mapping`.
    """
    content = known_keys(_toml(text, where), ("source", "settings", *FEED), where, "key or table")
    settings = dict(table_of(content.get("settings", {}), f"{where}, [settings]"))
    empty = _placeholders(settings.pop("placeholders", {}), f"{where}, [settings]")
    said, written = settings_of(settings, f"{where}, [settings]", FORMAT_KEYS)
    blocks = tuple(
        _block(table, {**written, **table_of(block, where)}, f"{where}, [[{table}]] {number}", empty)
        for table in FEED
        for number, block in enumerate(blocks_of(content.get(table, []), where), start=1)
    )
    if not blocks and "settings" not in content:
        raise FeedError("the mapping fills no table", where=where, next_step="add a [[repairs]] block")
    source = word(content.get("source", ""), "source", where)
    if set(source) & set(":/") or (blocks and not source):
        raise FeedError(
            f"source is {source!r}; it must be a word without : and /",
            where=where,
            next_step='begin the mapping with a word for this export, such as source = "workshop"',
        )
    native = _format(written, f"{where}, [settings]")
    if not {"decimal", "thousands"} & written.keys():
        native = replace(native, decimal="")
    return Mapping(source, said, blocks, where, native, empty)


def _placeholders(value: object, where: str) -> dict[str, tuple[str, ...]]:
    """Return the texts that mean empty in every table, by native column."""
    columns = {name: None for table in FEED.values() for name in table.names}
    said = known_keys(value, columns, f"{where}, placeholders", "column of the feed")
    return {name: words(each, name, where) for name, each in said.items()}


def _toml(text: str, where: str) -> object:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise FeedError(f"the mapping is not TOML: {error}", where=where, next_step="mend that line") from None


def _block(table: str, value: object, where: str, empty: dict[str, tuple[str, ...]]) -> Block:
    keys = known_keys(value, BLOCK_KEYS, where)

    def by_native(name: str) -> dict[str, Any]:
        return known_keys(keys.get(name, {}), FEED[table].names, f"{where}, {name}", f"column of {table}")

    def texts(name: str) -> tuple[str, ...]:
        return words(keys.get(name, []), name, where)

    def their_values(name: str) -> dict[str, tuple[str, ...]]:
        return {key: words(each, key, where) for key, each in table_of(keys.get(name, {}), where).items()}

    block = Block(
        table=table,
        file=_file(keys.get("file", ""), where),
        sheet=word(keys.get("sheet", ""), "sheet", where),
        columns=_words_of(by_native("columns"), where),
        constants=_words_of(by_native("constants"), where),
        templates=_words_of(by_native("templates"), where),
        numbers=tuple(whole(each, "n", where, 0) for each in list_of(keys.get("n", []), "n", where)),
        skip_empty=texts("skip_empty"),
        units=_units(keys.get("units", {}), where),
        values={name: _values(table, name, each, where) for name, each in by_native("values").items()},
        placeholders={
            **{name: each for name, each in empty.items() if name in FEED[table].names},
            **{name: words(each, name, where) for name, each in by_native("placeholders").items()},
        },
        text={name: _text_rules(table, name, each, where) for name, each in by_native("text").items()},
        drop=texts("drop"),
        where=their_values("where"),
        skip=their_values("skip"),
        distinct=truth(keys.get("distinct", False), "distinct", where),
        content_id=texts("content_id"),
        read=_read_options(keys, where),
        format=_format(keys, where),
    )
    _complete(block, where)
    return block


def _words_of(table: dict[str, Any], where: str) -> TableOfWords:
    return {name: word(each, name, where) for name, each in table.items()}


def _file(value: object, where: str) -> str:
    name = word(value, "file", where)
    if not name or name in {".", ".."} or set(name) & set("/\\:"):
        raise FeedError(
            f"file is {name!r}",
            where=where,
            next_step='name a file in the feed\'s own folder, such as "jobs.csv" or "jobs_*.csv"',
        )
    return name


def _units(value: object, where: str) -> TableOfWords:
    said = known_keys(value, UNITS, f"{where}, units", "column with a unit")
    return {name: one_of(each, UNITS[name], name, f"{where}, units") for name, each in said.items()}


def _values(table: str, name: str, value: object, where: str) -> TableOfWords:
    place = f"{where}, values.{name}"
    listed = _words_of(table_of(value, place), place)
    known = FEED[table].column(name).values
    for ours in listed.values():
        if known and ours:
            one_of(ours, known, name, place)
    return {theirs if theirs == ANY_OTHER else theirs.strip().lower(): ours for theirs, ours in listed.items()}


def _text_rules(table: str, name: str, value: object, where: str) -> TextRules:
    place = f"{where}, text.{name}"
    said = known_keys(value, TEXT_KEYS, place)
    known = FEED[table].column(name).values
    pairs = [words(pair, "rule", place) for pair in list_of(said.get("rules", []), "rules", place)]
    remove = words(said.get("remove", []), "remove", place)
    if not said.get("from") or not pairs or any(len(pair) != 2 for pair in pairs):
        raise FeedError(
            "text rules need a column and pairs of pattern and word",
            where=place,
            next_step='write from = "Their column" and rules = [["\\\\bPUMP", "pump"], ...]',
        )
    for pattern in (*remove, *(pair[0] for pair in pairs)):
        check_pattern(pattern, place)
    otherwise = word(said.get("otherwise", ""), "otherwise", place)
    for ours in (*(pair[1] for pair in pairs), otherwise):
        if known and ours:
            one_of(ours, known, name, place)
    return TextRules(word(said["from"], "from", place), remove, tuple((p[0], p[1]) for p in pairs), otherwise)


def _read_options(keys: dict[str, Any], where: str) -> ReadOptions:
    return ReadOptions(
        encoding=one_of(keys.get("encoding", ""), ("", *ENCODINGS), "encoding", where),
        delimiter=one_of(keys.get("delimiter", ","), DELIMITERS, "delimiter", where),
        escape=one_of(keys.get("escape", ""), ("", "\\"), "escape", where),
        heading_line=whole(keys.get("heading_line", 1), "heading_line", where, 1),
    )


def _format(keys: dict[str, Any], where: str) -> Format:
    decimal = one_of(keys.get("decimal", "."), (".", ","), "decimal", where)
    thousands = one_of(keys.get("thousands", ""), ("", ".", ",", " ", "'"), "thousands", where)
    if thousands == decimal:
        raise FeedError(f"decimal and thousands are both {decimal!r}", where=where, next_step="state two marks")
    order = one_of(keys.get("date_order", "iso"), DATE_ORDERS, "date_order", where)
    years = whole(keys.get("two_digit_years", 0), "two_digit_years", where, 0)
    return Format(cast("DateOrder", order), decimal, thousands, years)


def _complete(block: Block, where: str) -> None:
    table = FEED[block.table]
    formed = {"record_id"} if block.table == "repairs" else set()
    missing = [
        column.name
        for column in table.columns
        if not column.nullable and column.default is None and column.name not in block.filled | formed
    ]
    if missing:
        raise FeedError(
            f"nothing fills {', '.join(missing)}, which {block.table} must have",
            where=where,
            next_step="name the columns under columns, or state constants",
        )
    known_keys(dict.fromkeys(block.skip_empty), sorted(block.filled), f"{where}, skip_empty", "filled column")
    marked = any("{n}" in each for each in (*block.columns.values(), *block.templates.values()))
    if marked != bool(block.numbers):
        raise FeedError(
            "{n} and the list n go together: one is there without the other",
            where=where,
            next_step='write n = [1, 2] and columns such as "replaced_{n}"',
        )
    for name, template in block.templates.items():
        _check_template(name, template, where)


def _check_template(name: str, template: str, where: str) -> None:
    try:
        parts = list(string.Formatter().parse(template))
    except ValueError:
        parts = []
    if not any(field for _, field, _, _ in parts) or any(spec or conversion for _, _, spec, conversion in parts):
        raise FeedError(
            f"template of {name} is {template!r}",
            where=where,
            next_step='name their columns in braces, such as "{Bus}-{Job}"',
        )
