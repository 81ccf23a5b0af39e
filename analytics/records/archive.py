"""Examine a workbook's archive before anything unpacks it: bombs, entities, links, macros, passwords, false names."""

from __future__ import annotations

import io
import re
import zipfile
from typing import TYPE_CHECKING

from analytics.errors import FeedError

if TYPE_CHECKING:
    from collections.abc import Iterator

MOST_PARTS = 10_000
"""Parts of one workbook; a sheet, a picture or a note is a part."""

MOST_BYTES = 4 * 1024**3
"""Bytes of all parts, unpacked."""

HARMLESS_BYTES = 64 * 1024**2
"""Up to so many bytes no ratio is suspicious: a short sheet of equal rows packs well."""

HIGHEST_RATIO = 200
"""Unpacked to packed bytes; sheets of records reach some 20, a bomb a thousand."""

MOST_CELLS = 50_000_000
"""Cells of a sheet from its first to its last, empty ones too: the reader makes room for them all."""

NEAR_ROWS, NEAR_COLUMNS = 9_999, 26
FAR = re.compile(rb"[<:]c\s[^>]*?\br=[\"'](?:([A-Za-z]{2,3})(\d+)|([A-Za-z])(\d{5,}))[\"']")
"""A cell beyond column Z or row 9,999; all others together are few."""

RELATIONSHIP = re.compile(rb"<[^>]*\bTargetMode=[\"']External[\"'][^>]*>")

CHUNK = 1024**2
OVERLAP = 4096
OLD_OFFICE = bytes.fromhex("d0cf11e0a1b11ae1")
ENCRYPTED_BIT = 0x1
PASSWORD_MARK = "EncryptedPackage".encode("utf-16-le")

ENTITIES = tuple(
    word.encode(code) for word in ("<!DOCTYPE", "<!ENTITY") for code in ("ascii", "utf-16-le", "utf-16-be")
)
NOT_CALCULATED = re.compile(
    rb'<c r="([A-Z]+\d+)"(?: (?!t="str")\w+="[^"]*")*><f(?:[^>]*/>|[^>]*>[^<]*</f>)(?:<v ?/>)?</c>'
)
"""A formula without the value it had when the workbook was saved; one that gave an empty text has an empty value."""


def check_workbook(content: bytes, where: str) -> None:
    """Refuse a workbook that is dangerous to unpack, or of which a part could not be read as it is meant.

    Parameters
    ----------
    content
        The workbook's bytes.
    where
        File name, for the message.

    Raises
    ------
    FeedError
        If the bytes are no archive, are protected by a password, would unpack to far more than they hold, declare
        XML entities, link to other workbooks, carry macros, name parts outside the archive, hold a cell so far out
        that the sheet would fill the memory, or hold formulas that were never calculated.

    Notes
    -----
    Every XML part is unpacked once, a piece at a time: sizes that the archive's own list understates are found so.
    """
    if content.startswith(OLD_OFFICE):
        _refuse_old(content, where)
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            parts = archive.infolist()
            _check_names(parts, where)
            _check_sizes(parts, len(content), where)
            for part in parts:
                if part.filename.lower().endswith((".xml", ".rels", ".vml")):
                    _check_text(archive, part, where)
    except (zipfile.BadZipFile, NotImplementedError, EOFError, OSError, ValueError):
        raise FeedError(
            "the file is not a workbook, or is damaged",
            where=where,
            next_step="save it again as XLSX, or export it as CSV",
        ) from None


def _refuse_old(content: bytes, where: str) -> None:
    if PASSWORD_MARK in content:
        raise FeedError(
            "the workbook is protected by a password", where=where, next_step="save it without a password, as XLSX"
        )
    raise FeedError(
        "the file is a workbook of the old binary kind, not XLSX", where=where, next_step="save it again as XLSX"
    )


def _check_names(parts: list[zipfile.ZipInfo], where: str) -> None:
    names = [part.filename.lower() for part in parts]
    if any(part.flag_bits & ENCRYPTED_BIT for part in parts):
        raise FeedError(
            "parts of the workbook are encrypted", where=where, next_step="save it without a password, as XLSX"
        )
    outside = next((name for name in names if re.search(r"^[/\\]|^[a-z]:|\\|(?:^|/)\.\.(?:/|$)|\x00", name)), None)
    if outside or len({*names}) < len(names):
        raise FeedError(
            f"the workbook names a part outside itself: {outside!r}"
            if outside
            else "the workbook has two parts of one name",
            where=where,
            next_step="save it again as XLSX; if you did not make the file, do not load it",
        )
    if any(name.endswith("vbaproject.bin") or name.startswith("xl/macrosheets/") for name in names):
        raise FeedError("the workbook carries macros", where=where, next_step="save it as XLSX, without macros")
    if any(name.startswith("xl/externallinks/") for name in names):
        raise _linked(where)


def _linked(where: str) -> FeedError:
    return FeedError(
        "the workbook takes values from other workbooks",
        where=where,
        next_step="break its links to other workbooks (their values stay), save it and load it again",
    )


def _check_sizes(parts: list[zipfile.ZipInfo], packed: int, where: str) -> None:
    unpacked = sum(part.file_size for part in parts)
    if len(parts) > MOST_PARTS or unpacked > MOST_BYTES or unpacked > max(HARMLESS_BYTES, HIGHEST_RATIO * packed):
        raise FeedError(
            f"the workbook would unpack {packed:,} bytes to {unpacked:,} in {len(parts):,} parts",
            where=where,
            next_step="export its sheets as CSV; if you did not make the file, do not load it",
        )


def _check_text(archive: zipfile.ZipFile, part: zipfile.ZipInfo, where: str) -> None:
    name = part.filename.lower()
    is_sheet = name.startswith("xl/worksheets/")
    extent = (NEAR_ROWS, NEAR_COLUMNS)
    for piece in _pieces(archive, part):
        if any(word in piece for word in ENTITIES):
            raise FeedError(
                f"part {part.filename} of the workbook declares entities, which no spreadsheet program writes",
                where=where,
                next_step="save it again as XLSX; if you did not make the file, do not load it",
            )
        if part.filename == "[Content_Types].xml" and b"macroEnabled" in piece:
            raise FeedError("the workbook carries macros", where=where, next_step="save it as XLSX, without macros")
        if name.endswith(".rels") and any(b"/hyperlink" not in found for found in RELATIONSHIP.findall(piece)):
            raise _linked(where)
        if is_sheet:
            extent = _extent(piece, extent, part.filename, where)
        empty = NOT_CALCULATED.search(piece) if is_sheet and b"<f" in piece else None
        if empty:
            raise FeedError(
                f"cell {empty[1].decode()} in {part.filename} holds a formula without a result",
                where=where,
                next_step="open the workbook in your spreadsheet program, which calculates it, save it and load again",
            )


def _extent(piece: bytes, known: tuple[int, int], name: str, where: str) -> tuple[int, int]:
    """Return the last row and column so far, at least; refuse a sheet for which there would be no room."""
    rows, columns = known
    for found in FAR.finditer(piece):
        letters, row = found[1] or found[3], int(found[2] or found[4])
        rows, columns = max(rows, row), max(columns, _column(letters))
        if rows * columns > MOST_CELLS:
            cell = f"{letters.decode().upper()}{row}"
            raise FeedError(
                f"cell {cell} in {name} lies so far out that the sheet would have {rows * columns:,} cells",
                where=where,
                next_step="delete what stands outside the table, or export the sheet as CSV",
            )
    return rows, columns


def _column(letters: bytes) -> int:
    number = 0
    for letter in letters.upper():
        number = 26 * number + letter - ord("A") + 1
    return number


def _pieces(archive: zipfile.ZipFile, part: zipfile.ZipInfo) -> Iterator[bytes]:
    """Yield a part's text in pieces that overlap, so that no word is cut unseen."""
    tail = b""
    with archive.open(part) as stream:
        while chunk := stream.read(CHUNK):
            yield tail + chunk
            tail = chunk[-OVERLAP:]
