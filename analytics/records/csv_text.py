"""Split delimited text into a heading, rows of text, and rows that cannot be split with certainty."""

from __future__ import annotations

import re
from dataclasses import dataclass

import polars as pl

from analytics.errors import FeedError
from analytics.records.headings import name_columns
from analytics.records.sound_text import split_sound

ROW = " row"
"""Column that holds the 1-based number of a data row; blank rows are numbered too. No heading begins with a blank."""

DELIMITERS = (",", ";", "\t", "|")
LONGEST_TEXT = 200
"""A quoted text that runs over more lines than this is taken for a quote nobody closed."""

BROKEN = {ROW: pl.Int64, "says": pl.String, "text": pl.String}


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows of one delimited text.

    Attributes
    ----------
    heading
        Column names as written, in order.
    good
        One String column per name in `heading` plus `ROW`; empty fields are null.
    broken
        `ROW`, ``says`` and ``text`` (as it stands in the file) of each row that cannot be split with certainty.
    """

    heading: tuple[str, ...]
    good: pl.DataFrame
    broken: pl.DataFrame


@dataclass(frozen=True, slots=True)
class _Patterns:
    """Regular expressions that are the same for Polars and for the standard library."""

    delimiter: str
    field: str
    quoted: str
    still_open: str
    glued: str
    mark: str

    @staticmethod
    def of(delimiter: str, content: str) -> _Patterns:
        d = re.escape(delimiter)
        # stands for a quoted text, so the file itself must not hold it
        mark = next(each for each in map(chr, (*range(1, 9), *range(0xE000, 0xF900))) if each not in content)
        text = ' *"(?:[^"]|"")*"'
        return _Patterns(
            delimiter=delimiter,
            field=f"{d}(?:{text})?[^{d}]*",
            quoted=f"(^|{d}){text}",
            # a quote right behind a match is the second half of a doubled one: the text was not closed there
            still_open=f'(?:^|{d}) *"|{mark}"',
            glued=f"{mark} *[^{d} ]",
            mark=mark,
        )


def decode(content: bytes, encoding: str, where: str) -> str:
    """Return the text of a file.

    Parameters
    ----------
    content
        The file's bytes.
    encoding
        ``utf-8``, ``utf-16`` (``utf-16-le`` or ``utf-16-be`` without a byte order mark), ``cp1252`` or ``latin-1``;
        empty means UTF-8, or what a byte order mark says.
    where
        File name, for the message.

    Raises
    ------
    FeedError
        If the bytes are not text in that encoding, or not text at all.
    """
    marks = {b"\xff\xfe": "utf-16", b"\xfe\xff": "utf-16", b"\xef\xbb\xbf": "utf-8-sig"}
    told = next((name for mark, name in marks.items() if content.startswith(mark)), "")
    try:
        text = content.decode(told or encoding or "utf-8")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise FeedError(
            f"byte 0x{content[error.start]:02X} on line {line} is not {error.encoding} text",
            where=where,
            next_step='save the file as UTF-8, or state its encoding in the mapping (encoding = "cp1252")',
        ) from None
    if 0 < text.count("\x00") < len(text) / 10:
        raise FeedError(
            f"the file is not a table of text: line {text.count(chr(10), 0, text.index(chr(0))) + 1} holds a zero byte",
            where=where,
            next_step="take the zero bytes out of it in a text editor, or export it again",
        )
    if "\x00" in text:
        code = "utf-16-be" if text.startswith("\x00") else "utf-16-le"
        raise FeedError(
            "the file is not a table of text: it holds zero bytes",
            where=where,
            next_step=f'export it as CSV in UTF-8, as XLSX or as Parquet, or state encoding = "{code}" in a mapping',
        )
    return text


def sniff_delimiter(text: str) -> str:
    """Return the delimiter that occurs most often in the first line that is not blank; comma if none does.

    Examples
    --------
    >>> sniff_delimiter("record_id;closed_on;note, if any")
    ';'
    """
    first = next((line for line in text.splitlines() if line.strip()), "")
    return max(DELIMITERS, key=first.count)


def split_rows(text: str, where: str, *, delimiter: str = ",", escape: str = "", heading_line: int = 1) -> Rows:
    r"""Split delimited text into rows of text; nothing is judged, nothing is lost.

    Parameters
    ----------
    text
        The whole file.
    where
        File name, for messages.
    delimiter
        One of `DELIMITERS`.
    escape
        Character written before a quote inside a quoted text; empty where such quotes are doubled.
    heading_line
        1-based line of the column names; lines before it are titles.

    Returns
    -------
    Rows
        Good and broken rows; together with blank rows they are all rows below the heading.

    Raises
    ------
    FeedError
        If there is no heading, or two columns have one name.

    Notes
    -----
    A field is quoted only if the quote is its first character. A quoted text may run over several lines; a quote
    that nobody closes costs its own row, not the rest of the file.

    Examples
    --------
    >>> rows = split_rows("bus_id,note\n7,\"slow, then quick\"\n8\n", "buses.csv")
    >>> rows.good.rows(), rows.broken["says"].to_list()
    ([('7', 'slow, then quick', 1)], ['1 field where the heading has 2'])
    """
    if escape:
        text = text.replace(f'{escape}"', '""')
    text = text.replace("\r\n", "\n")
    if "\n" not in text:
        text = text.replace("\r", "\n")
    patterns = _Patterns.of(delimiter, text)
    first, _, below = text.partition("\n")
    if heading_line == 1 and first.strip():
        heading = _heading(first, patterns, where)
        if (sound := split_sound(below, heading, delimiter)) is not None:
            return Rows(
                heading, sound.with_columns(pl.int_range(1, pl.len() + 1).alias(ROW)), pl.DataFrame(schema=BROKEN)
            )
    lines = pl.Series("text", [text]).str.split("\n").explode().slice(heading_line - 1)
    lines = lines.slice(int((lines.str.strip_chars() != "").arg_max() or 0))
    heading = _heading(lines[0] if len(lines) else "", patterns, where)
    records = _records(lines.slice(1), patterns, len(heading))
    width = len(heading)
    fine, broken = _tell_apart(records, width)
    has_quote = pl.col("text").str.contains('"', literal=True)
    good = pl.concat(
        [_plain_fields(fine.filter(~has_quote), heading, patterns), _fields(fine.filter(has_quote), heading, patterns)]
    )
    return Rows(heading, good.sort(ROW), broken)


def _heading(line: str, patterns: _Patterns, where: str) -> tuple[str, ...]:
    if not line.strip():
        raise FeedError("the file is empty", where=where, next_step="export it again, with a heading line")
    fields = re.findall(patterns.field, patterns.delimiter + line)
    return name_columns([_plain(field[1:]) for field in fields], where)


def _plain(field: str) -> str:
    field = field.strip()
    quoted = len(field) > 1 and field.startswith('"') and field.endswith('"')
    return field[1:-1].replace('""', '"') if quoted else field


def _records(lines: pl.Series, patterns: _Patterns, width: int) -> pl.DataFrame:
    """One row per record: text, whether its quotes are open or glued to other text, fields."""
    records = _shapes(lines.alias("text").to_frame(), patterns)
    if records["open"].any():
        records = _shapes(_join_open(records, patterns, width), patterns)
    return records.with_row_index(ROW, offset=1).with_columns(pl.col(ROW).cast(pl.Int64))


def _shapes(records: pl.DataFrame, patterns: _Patterns) -> pl.DataFrame:
    bare = pl.col("text").str.replace_all(patterns.quoted, "${1}" + patterns.mark)
    return records.with_columns(bare=bare).select(
        "text",
        open=pl.col("bare").str.contains(patterns.still_open),
        glued=pl.col("bare").str.contains(patterns.glued),
        stray=pl.col("bare").str.contains('"', literal=True),
        fields=pl.col("bare").str.count_matches(patterns.delimiter, literal=True) + 1,
    )


def _join_open(records: pl.DataFrame, patterns: _Patterns, width: int) -> pl.DataFrame:
    """Join the lines of quoted texts that run over several lines; loops over lines with an open quote only."""
    lines = records["text"].to_list()
    group = list(range(len(lines)))
    done = -1
    for start in records.select(pl.col("open").arg_true()).to_series():
        if start <= done:
            continue
        end, whole = _closing_line(lines, start, patterns, width)
        if end is not None:
            group[start : end + 1] = [start if whole else line for line in range(start, end + 1)]
            done = end
    return (
        records.with_columns(group=pl.Series(group))
        .group_by("group", maintain_order=True)
        .agg(pl.col("text").str.join("\n"))
        .sort("group")
        .select("text")
    )


def _closing_line(lines: list[str], start: int, patterns: _Patterns, width: int) -> tuple[int | None, bool]:
    """Return the line that closes a quote cleanly, and whether all up to it is a row: its own quote opens nothing."""
    text = lines[start]
    for end in range(start + 1, min(start + LONGEST_TEXT, len(lines))):
        text = f"{text}\n{lines[end]}"
        if '"' not in lines[end]:
            continue
        bare = re.sub(patterns.quoted, f"\\1{patterns.mark}", text)
        if not re.search(patterns.still_open, bare):
            clean = not re.search(patterns.glued, bare)
            return end if clean else None, clean and bare.count(patterns.delimiter) + 1 == width
    return None, False


def _tell_apart(records: pl.DataFrame, width: int) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return the records that can be split with certainty, and the others with the reason; blank ones are neither."""
    count = pl.col("fields")
    plural = pl.when(count == 1).then(pl.lit("")).otherwise(pl.lit("s"))
    says = (
        pl.when(pl.col("open"))
        .then(pl.lit("a quote is opened and not closed"))
        .when(pl.col("glued"))
        .then(pl.lit("text follows a closing quote: a quote inside a text is written twice, or state escape"))
        .when(count != width)
        .then(pl.format("{} field{} where the heading has {}", count, plural, pl.lit(width)))
    )
    # the quote before this one was never closed, so this row may be the end of the text that it opened
    opened = pl.when(pl.col("text").str.contains('"', literal=True)).then(pl.col("open"))
    doubtful = pl.col("stray") & opened.shift(1).forward_fill(LONGEST_TEXT)
    doubt = pl.when(doubtful).then(pl.lit("may be the end of a text that an earlier row opens"))
    told = records.with_columns(says=pl.coalesce(says, doubt)).filter(pl.col("text").str.strip_chars() != "")
    return told.filter(pl.col("says").is_null()), told.filter(pl.col("says").is_not_null()).select(*BROKEN)


def _plain_fields(records: pl.DataFrame, heading: tuple[str, ...], patterns: _Patterns) -> pl.DataFrame:
    """Fields of records without any quote: the same as `_fields`, four times as fast."""
    split = records.select(pl.col(ROW), parts=pl.col("text").str.split(patterns.delimiter))
    return _columns(split, [pl.col("parts").list.get(i) for i in range(len(heading))], heading)


def _fields(records: pl.DataFrame, heading: tuple[str, ...], patterns: _Patterns) -> pl.DataFrame:
    whole = pl.lit(patterns.delimiter) + pl.col("text")
    split = records.select(pl.col(ROW), parts=whole.str.extract_all(patterns.field))
    return _columns(split, [_unquoted(pl.col("parts").list.get(i)) for i in range(len(heading))], heading)


def _columns(split: pl.DataFrame, fields: list[pl.Expr], heading: tuple[str, ...]) -> pl.DataFrame:
    named = [field.str.strip_chars().replace("", None).alias(name) for field, name in zip(fields, heading, strict=True)]
    return split.select(*named, ROW)


def _unquoted(field: pl.Expr) -> pl.Expr:
    field = field.str.slice(1).str.strip_chars()
    inner = field.str.slice(1).str.strip_suffix('"').str.replace_all('""', '"', literal=True)
    return pl.when(field.str.starts_with('"')).then(inner).otherwise(field)
