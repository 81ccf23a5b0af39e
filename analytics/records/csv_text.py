"""Split delimited text into a heading, rows of text, and rows that cannot be split with certainty."""

from __future__ import annotations

from analytics.errors import FeedError
from analytics.records.careful_text import LONGEST_TEXT, ROW, Rows, begin

__all__ = [
    "DELIMITERS",
    "LONGEST_TEXT",
    "ROW",
    "Rows",
    "decode",
    "encoding_of",
    "sniff_delimiter",
    "split_rows",
    "unescaped",
]

DELIMITERS = (",", ";", "\t", "|")


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
    try:
        text = content.decode(encoding_of(content, encoding))
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


def encoding_of(content: bytes, stated: str) -> str:
    """Return what a byte order mark says, else what is stated, else UTF-8."""
    marks = {b"\xff\xfe": "utf-16", b"\xfe\xff": "utf-16", b"\xef\xbb\xbf": "utf-8-sig"}
    told = next((name for mark, name in marks.items() if content.startswith(mark)), "")
    return told or stated or "utf-8"


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
    text = unescaped(text, escape)
    if "\n" not in text:
        text = text.replace("\r", "\n")
    splitter, below = begin(text, where, delimiter, heading_line)
    return splitter.split(below)[0]


def unescaped(text: str, escape: str) -> str:
    """Return text with doubled quotes for escaped ones, and with one sign at the end of each line."""
    if escape:
        text = text.replace(f'{escape}"', '""')
    return text.replace("\r\n", "\n")
