"""Propose a mapping for an export nobody has mapped yet: every guess stands beside what it rests on."""

from __future__ import annotations

import csv
import json
import re
from dataclasses import dataclass
from functools import cached_property, partial
from typing import TYPE_CHECKING

import polars as pl

from analytics.errors import FeedError
from analytics.records import guesses
from analytics.records.csv_text import ROW, decode, sniff_delimiter
from analytics.records.feed import FEED
from analytics.records.layout_guesses import FIGURE, LINES_LOOKED_AT, heading_line, numbered_columns
from analytics.records.notation import UNCERTAIN
from analytics.records.reading import PARQUET, READABLE, WORKBOOKS, ReadOptions, list_files, read_files

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path

    from analytics.records.mapped import MappedFeed
    from analytics.records.reading import SourceTable
    from analytics.records.table import Table

NAMES = [table.names for table in FEED.values()]

MOST_WORDS = 20
"""Value lists longer than this are not written out."""


@dataclass(frozen=True)
class _Guessed:
    """One file's table and how it seems to be written."""

    source: SourceTable
    file: Path
    options: ReadOptions

    @property
    def headings(self) -> list[str]:
        """Names of its columns."""
        return [name for name in self.source.frame.columns if name != ROW]

    @cached_property
    def numbered(self) -> tuple[dict[str, str], tuple[int, ...]]:
        """Its numbered columns, as `numbered_columns` gives them."""
        return numbered_columns(self.headings)

    def columns(self, name: str) -> list[str]:
        """Return the headings that a name in the proposal stands for: itself, or one for each number."""
        return [name.replace("{n}", str(n)) for n in self.numbered[1]] if "{n}" in name else [name]


def propose_mapping(path: Path, loaded_on: date) -> str:
    """Return the text of a mapping for the feed at `path`.

    Parameters
    ----------
    path
        File or folder of the export.
    loaded_on
        Day of the proposal; two-digit years never lie after it.

    Returns
    -------
    str
        TOML. A comment beside each guess says what it rests on; what must be filled in by hand stands commented out.

    Raises
    ------
    FeedError
        If no file can be read as a table.
    """
    tables = [each for file in list_files(path) if file.suffix.lower() in READABLE for each in _read(file)]
    if not tables:
        raise FeedError(
            "the feed holds no CSV, XLSX or Parquet file", where=str(path), next_step="export the jobs as one of these"
        )
    lines = [
        "# A proposal: every line marked 'guess' must be checked before loading.",
        f'source = "{_word(path)}"  # guess: a word for this export, kept before its record numbers',
    ]
    cars_known = any(_best_table(guessed, _matches(guessed)) == "vehicles" for guessed in tables)
    for guessed in tables:
        lines += ["", *_blocks(guessed, loaded_on, cars_known=cars_known)]
    return "\n".join(lines) + "\n"


def _word(path: Path) -> str:
    return guesses.plain(path.resolve().stem).replace(" ", "-") or "export"


def _read(file: Path) -> list[_Guessed]:
    if file.suffix.lower() in WORKBOOKS:
        return [_with_headings(_Guessed(each, file, ReadOptions())) for each in read_files([file])]
    options = ReadOptions() if file.suffix.lower() in PARQUET else _how_written(file)
    return [_Guessed(each, file, options) for each in read_files([file], options)]


def _how_written(file: Path) -> ReadOptions:
    """Guess encoding, delimiter and line of the headings of a text file."""
    content, encoding = file.read_bytes(), ""
    try:
        text = decode(content, encoding, file.name)
    except FeedError:
        text = decode(content, encoding := "cp1252", file.name)
    lines = text.splitlines()[:LINES_LOOKED_AT]
    # a title holds no delimiter, or a few by chance: the fullest line tells which one it is
    delimiter = sniff_delimiter(max(lines, key=lambda line: line.count(sniff_delimiter(line)), default=""))
    line = heading_line(csv.reader(lines, delimiter=delimiter), partial(guesses.known_headings, NAMES))
    return ReadOptions(encoding=encoding, delimiter=delimiter, heading_line=line)


def _with_headings(guessed: _Guessed) -> _Guessed:
    """Read a sheet again from the line of its headings where a title stands above them."""
    frame = guessed.source.frame
    above = [["" if name.startswith("column ") else name for name in guessed.headings]]
    below = frame.head(LINES_LOOKED_AT).select(guessed.headings).fill_null("").rows()
    line = heading_line([*above, *below], partial(guesses.known_headings, NAMES))
    if line == 1:
        return guessed
    options = ReadOptions(heading_line=frame[ROW][line - 2] + 1)
    sheets = {each.name: each for each in read_files([guessed.file], options)}
    return _Guessed(sheets[guessed.source.name], guessed.file, options)


def propose_settings(mapped: MappedFeed, loaded_on: date) -> str:
    """Return the text of a mapping that says how a native feed writes dates and numbers; empty = nothing to say.

    Parameters
    ----------
    mapped
        The feed, read without a mapping.
    loaded_on
        Day of the proposal; two-digit years never lie after it.
    """
    texts = {
        name: rows.filter(
            pl.col("file").str.to_lowercase().str.ends_with(".csv") | pl.col("file").str.ends_with(".tsv")
        )
        for name, rows in mapped.tables.items()
    }
    lines = _notation_lines(_written(texts, {"date"}), _written(texts, {"number", "whole"}), loaded_on)
    return "\n".join(["[settings]", *lines, ""]) if lines else ""


def _written(texts: dict[str, pl.DataFrame], kinds: set[str]) -> pl.Series:
    """Return all values of some kinds of column as they stand in the files; readings at checks tell no marks."""
    columns = [
        rows[column.name].alias("values").str.strip_suffix(")").str.replace(f" {re.escape(UNCERTAIN)} .*", "")
        for name, rows in texts.items()
        for column in FEED[name].columns
        if column.kind in kinds and column.name in rows.columns and column.unit != "measured_unit"
    ]
    return pl.concat([pl.Series("values", [], dtype=pl.String), *columns]).drop_nulls()


def _matches(guessed: _Guessed) -> dict[str, dict[str, str]]:
    numbered, _ = guessed.numbered
    alone = [name for name in guessed.headings if not any(name in guessed.columns(each) for each in numbered.values())]
    found = {name: guesses.match_columns(table.names, [*alone, *numbered]) for name, table in FEED.items()}
    # a line number differs from line to line, not from column to column
    return {
        table: {name: numbered.get(to, to) for name, to in pairs.items() if name != "line_no" or to not in numbered}
        for table, pairs in found.items()
    }


def _best_table(guessed: _Guessed, matches: dict[str, dict[str, str]]) -> str:
    """Return the table a file seems to be: the one it is named after, else the one most of its headings fit."""
    named = guessed.source.name.strip().lower()
    if matches.get(named):
        return named
    return max(matches, key=lambda name: (len(matches[name]), _share_of_required(FEED[name], matches[name])))


def _blocks(guessed: _Guessed, loaded_on: date, *, cars_known: bool) -> list[str]:
    matches = _matches(guessed)
    best = _best_table(guessed, matches)
    if not matches[best]:
        headings = ", ".join(guessed.headings)
        bare = any(re.match(FIGURE, heading) for heading in guessed.headings)
        why = "; its first line looks like a record: put a line of headings above it" if bare else ""
        return [f"# {guessed.source.file}: no column was recognised; it has: {headings}{why}"]
    lines = _block(guessed, FEED[best], matches[best], loaded_on)
    if best == "repairs" and not cars_known and "vehicle_id" in matches[best]:
        lines += ["", "# guess: the cars are known from their jobs only", *_cars(guessed, matches)]
    return lines


def _share_of_required(table: Table, matched: dict[str, str]) -> float:
    needed = [column.name for column in table.columns if not column.nullable and column.default is None]
    return sum(name in matched for name in needed) / len(needed)


def _cars(guessed: _Guessed, matches: dict[str, dict[str, str]]) -> list[str]:
    cars = {name: theirs for name, theirs in matches["vehicles"].items() if name in {"vehicle_id", "series"}}
    lines = ["[[vehicles]]", *_file_lines(guessed), "distinct = true", _inline("columns", cars)]
    if "series" not in cars:
        lines.append('constants = { series = "one series" }  # guess: name your series, or a column that holds it')
    return lines


def _block(guessed: _Guessed, table: Table, matched: dict[str, str], loaded_on: date) -> list[str]:
    lines = [f"[[{table.name}]]", *_file_lines(guessed)]
    lines += _notation(guessed, table, matched, loaded_on)
    lines.append(_inline("columns", matched) + "  # guess: by the headings")
    rows = [name for name, theirs in matched.items() if "{n}" in theirs]
    if rows:
        lines.append(f"n = {[*guessed.numbered[1]]}  # guess: headings that differ by a number only, a row for each")
        telling = ["part_no"] if "part_no" in rows else rows
        lines.append(
            f"skip_empty = {_text(telling)}  # guess: without any of these there is no row, even of a whole job"
        )
    lacking = [c for c in table.required if c not in matched and table.column(c).default is None]
    lines += [
        f'# {name} ({table.column(name).meaning}) was not recognised: add it above as {name} = "Their column"'
        for name in lacking
        if name != "record_id" or table.name != "repairs"
    ]
    if "odometer" in matched and "odometer_unit" not in matched:
        unit, why = guesses.odometer_unit(matched["odometer"])
        lines.append(f'units = {{ odometer = "{unit}" }}  # guess: {why}')
    private = guesses.private_columns(guessed.headings)
    if private:
        lines.append(f"drop = {_text(private)}  # guess: may name a person")
    read = {name for theirs in matched.values() for name in guessed.columns(theirs)}
    left = [name for name in guessed.headings if name not in {*read, *private}]
    if left:
        lines.append(f"# not read: {', '.join(left)}")
    return [*lines, *_value_lists(guessed, table, matched)]


def _file_lines(guessed: _Guessed) -> list[str]:
    lines = [f"file = {_text(guessed.file.name)}"]
    if guessed.source.from_sheet:
        lines.append(f"sheet = {_text(guessed.source.name)}")
    if guessed.options.encoding:
        lines.append(f'encoding = "{guessed.options.encoding}"  # guess: the file is not UTF-8')
    if guessed.options.delimiter not in {"", ","}:
        lines.append(f"delimiter = {_text(guessed.options.delimiter)}  # guess: most frequent in the heading")
    if guessed.options.heading_line > 1:
        lines.append(f"heading_line = {guessed.options.heading_line}  # guess: the first line that is full of words")
    return lines


def _notation(guessed: _Guessed, table: Table, matched: dict[str, str], loaded_on: date) -> list[str]:
    dates = _values(guessed, [theirs for name, theirs in matched.items() if table.column(name).kind == "date"])
    kinds = {"number", "whole"}
    numbers = _values(guessed, [theirs for name, theirs in matched.items() if table.column(name).kind in kinds])
    return _notation_lines(dates, numbers, loaded_on)


def _notation_lines(dates: pl.Series, numbers: pl.Series, loaded_on: date) -> list[str]:
    lines = []
    order, why = guesses.date_order(dates)
    if order != "iso":
        lines.append(f'date_order = "{order}"  # guess: {why}')
    first_year = guesses.two_digit_years(dates, loaded_on)
    if first_year is not None:
        lines.append(f"two_digit_years = {first_year}  # guess: the hundred years up to now")
    decimal, thousands, why = guesses.number_marks(numbers)
    if decimal != ".":
        lines.append(f'decimal = "{decimal}"  # guess: {why}')
    if thousands:
        lines.append(f'thousands = "{thousands}"  # guess: {why}')
    return lines


def _values(guessed: _Guessed, columns: list[str]) -> pl.Series:
    values = [guessed.source.frame[each] for name in columns for each in guessed.columns(name)]
    return pl.concat(
        [pl.Series("values", [], dtype=pl.String), *(each.alias("values") for each in values)]
    ).drop_nulls()


def _value_lists(guessed: _Guessed, table: Table, matched: dict[str, str]) -> list[str]:
    lines: list[str] = []
    for name, theirs in matched.items():
        known = table.column(name).values
        seen = _values(guessed, [theirs]).str.to_lowercase().unique().sort().to_list()
        unknown = [word for word in seen if word not in known]
        if known and unknown and len(unknown) <= MOST_WORDS:
            lines += [f"[{table.name}.values.{name}]  # our words: {', '.join(known)}"]
            lines += [f'# {_text(word)} = "..."' for word in unknown]
    return lines


def _inline(key: str, pairs: dict[str, str]) -> str:
    return f"{key} = {{ {', '.join(f'{name} = {_text(theirs)}' for name, theirs in pairs.items())} }}"


def _text(value: str | list[str]) -> str:
    """Write a TOML string or list of strings: JSON's escapes are TOML's."""
    return json.dumps(value, ensure_ascii=False)
