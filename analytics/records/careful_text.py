"""Split lines of delimited text, as they come, into rows of text, and rows that cannot be split with certainty."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import polars as pl

from analytics.errors import FeedError
from analytics.records.headings import name_columns
from analytics.records.sound_text import split_sound

ROW = " row"
"""Column that holds the 1-based number of a data row; blank rows are numbered too. No heading begins with a blank."""

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


def begin(text: str, where: str, delimiter: str, heading_line: int) -> tuple[Splitter, str]:
    """Read the heading: the first line from `heading_line` on that is not blank; return the text below it too."""
    for _ in range(heading_line - 1):
        text = text.partition("\n")[2]
    first, _, below = text.partition("\n")
    while not first.strip() and below:
        first, _, below = below.partition("\n")
    heading = _heading(first, _Patterns.of(delimiter, first), where)
    return Splitter(heading, delimiter), below


@dataclass(slots=True)
class Splitter:
    """Splits the lines below a heading, as they come.

    Attributes
    ----------
    heading
        Column names as written, in order.
    delimiter
        Sign between fields.
    rows
        Rows numbered so far, blank ones too.
    opened
        Of the last rows, whether the quote was left open; null where there is no quote.
    """

    heading: tuple[str, ...]
    delimiter: str
    rows: int = 0
    opened: pl.Series = field(default_factory=lambda: pl.Series("open", [], dtype=pl.Boolean))

    def split(self, text: str, *, last: bool = True) -> tuple[Rows, str]:
        """Split whole lines.

        Parameters
        ----------
        text
            The next lines, with what was left over before.
        last
            Whether no more come.

        Returns
        -------
        tuple of Rows and str
            The rows, and lines at the end that can only be split with those that follow.
        """
        if (sound := split_sound(text, self.heading, self.delimiter)) is not None:
            numbered = sound.with_columns(pl.int_range(self.rows + 1, self.rows + 1 + pl.len()).alias(ROW))
            self._remember(
                pl.Series("open", [None], dtype=pl.Boolean).new_from_index(0, min(sound.height, LONGEST_TEXT))
            )
            self.rows += sound.height
            return Rows(self.heading, numbered, pl.DataFrame(schema=BROKEN)), ""
        patterns = _Patterns.of(self.delimiter, text)
        lines = pl.Series("text", [text]).str.split("\n").explode()
        records, left = _records(lines if last else lines.head(-1), patterns, len(self.heading), last=last)
        records = records.with_row_index(ROW, offset=self.rows + 1).with_columns(pl.col(ROW).cast(pl.Int64))
        self.rows += records.height
        fine, broken = self._tell_apart(records)
        has_quote = pl.col("text").str.contains('"', literal=True)
        plain, quoted = fine.filter(~has_quote), fine.filter(has_quote)
        good = pl.concat([_plain_fields(plain, self.heading, patterns), _fields(quoted, self.heading, patterns)])
        return Rows(self.heading, good.sort(ROW), broken), left

    def _tell_apart(self, records: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
        """Return the records that can be split with certainty, and the others with the reason; no blank ones."""
        has_quote = pl.col("text").str.contains('"', literal=True)
        opened = records.select(pl.when(has_quote).then(pl.col("open")).alias("open")).to_series()
        # the quote before this one was never closed, so this row may be the end of the text that it opened
        before = pl.concat([self.opened, opened]).shift(1).to_frame().select(pl.col("open").forward_fill(LONGEST_TEXT))
        after_open = before.to_series().slice(len(self.opened)).alias("after open")
        self._remember(opened)
        return _tell_apart(records.with_columns(after_open), len(self.heading))

    def _remember(self, opened: pl.Series) -> None:
        self.opened = pl.concat([self.opened, opened]).tail(LONGEST_TEXT + 1)


def _heading(line: str, patterns: _Patterns, where: str) -> tuple[str, ...]:
    if not line.strip():
        raise FeedError("the file is empty", where=where, next_step="export it again, with a heading line")
    fields = re.findall(patterns.field, patterns.delimiter + line)
    return name_columns([_plain(field[1:]) for field in fields], where)


def _plain(field: str) -> str:
    field = field.strip()
    quoted = len(field) > 1 and field.startswith('"') and field.endswith('"')
    return field[1:-1].replace('""', '"') if quoted else field


def _records(lines: pl.Series, patterns: _Patterns, width: int, *, last: bool) -> tuple[pl.DataFrame, str]:
    """One row per record: text, whether its quotes are open or glued to other text, fields; and what must wait."""
    records = _shapes(lines.alias("text").to_frame(), patterns)
    if not records["open"].any():
        return records, ""
    joined, waits = _join_open(records, patterns, width, last=last)
    left = lines.slice(waits)
    return _shapes(joined, patterns), "".join(f"{line}\n" for line in left)


def _shapes(records: pl.DataFrame, patterns: _Patterns) -> pl.DataFrame:
    bare = pl.col("text").str.replace_all(patterns.quoted, "${1}" + patterns.mark)
    return records.with_columns(bare=bare).select(
        "text",
        open=pl.col("bare").str.contains(patterns.still_open),
        glued=pl.col("bare").str.contains(patterns.glued),
        stray=pl.col("bare").str.contains('"', literal=True),
        fields=pl.col("bare").str.count_matches(patterns.delimiter, literal=True) + 1,
    )


def _join_open(records: pl.DataFrame, patterns: _Patterns, width: int, *, last: bool) -> tuple[pl.DataFrame, int]:
    """Join the lines of quoted texts that run over several lines; loops over lines with an open quote only.

    Returns the records, and the place of the line from which on more lines are needed to tell.
    """
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
        elif not last and start + LONGEST_TEXT > len(lines):
            group = group[:start]
            break
    joined = (
        records.head(len(group))
        .with_columns(group=pl.Series(group, dtype=pl.Int64))
        .group_by("group", maintain_order=True)
        .agg(pl.col("text").str.join("\n"))
        .sort("group")
        .select("text")
    )
    return joined, len(group)


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
    doubtful = pl.col("stray") & pl.col("after open")
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
