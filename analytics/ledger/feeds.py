"""Keep every mapped feed under its content hash, and read it back."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analytics.errors import LedgerError
from analytics.records import MappedFeed
from analytics.records.parts import ParquetRows, Parts, Tables, rows_of, write_parquet

if TYPE_CHECKING:
    from collections.abc import Callable

    import polars as pl

    from analytics.records.parts import Rows

MANIFEST = "manifest.json"
MAPPING = "mapping.toml"
ABSENT = "\x00"
"""Stands for an empty cell in the hashed text, so that it differs from an empty text."""

UNNAMED = "its original file"


@dataclass(frozen=True, slots=True)
class KeptFeed:
    """A feed that is kept.

    Attributes
    ----------
    name
        Hash over rows, source, settings, mapping, and names and hashes of the original files; the folder's name.
    anew
        Whether it was written: it was not there before, or was damaged.
    """

    name: str
    anew: bool


class _Digest:
    """A file to write to that keeps only the hash of what was written."""

    def __init__(self) -> None:
        self.sha256 = hashlib.sha256()

    def write(self, content: bytes) -> int:
        self.sha256.update(content)
        return len(content)

    def flush(self) -> None:
        """Do nothing; the writer of frames asks for it."""


def feeds_dir(data_dir: Path) -> Path:
    """Return where the kept feeds of a data folder lie."""
    return data_dir / "feeds"


def text_hash(text: str) -> str:
    """Return the SHA-256 of a text, as hexadecimal digits.

    Examples
    --------
    >>> text_hash("")[:8]
    'e3b0c442'
    """
    return hashlib.sha256(text.encode()).hexdigest()


def frame_hash(frame: pl.DataFrame) -> str:
    """Return the SHA-256 of a frame's columns and cells, in order; the same with any version of the libraries.

    Examples
    --------
    >>> import polars as pl
    >>> frame_hash(pl.DataFrame({"a": [""]})) == frame_hash(pl.DataFrame({"a": [None]}, schema={"a": pl.String}))
    False
    """
    digest = _Digest()
    frame.write_csv(digest, null_value=ABSENT, quote_style="non_numeric")  # type: ignore[call-overload]
    return digest.sha256.hexdigest()


def rows_hash(rows: Rows) -> str:
    """Return the `frame_hash` of all rows together, computed part by part."""
    digest = _Digest()
    rows.empty().write_csv(digest, quote_style="non_numeric")  # type: ignore[call-overload]
    for part in rows:
        part.write_csv(digest, include_header=False, null_value=ABSENT, quote_style="non_numeric")  # type: ignore[call-overload]
    return digest.sha256.hexdigest()


def feed_name(mapped: MappedFeed, mapping_text: str) -> str:
    """Return the hash under which `keep_feed` would keep a feed; nothing is written."""
    return _name(_manifest(mapped, mapping_text))


def _manifest(mapped: MappedFeed, mapping_text: str) -> dict[str, Any]:
    return {
        "source": mapped.source,
        "settings": mapped.settings,
        "files": [list(file) for file in mapped.files],
        "mapping": text_hash(mapping_text),
        "tables": {name: rows_hash(rows_of(mapped.tables, name)) for name in sorted(mapped.tables)},
    }


def keep_feed(data_dir: Path, mapped: MappedFeed, mapping_text: str) -> KeptFeed:
    """Keep a mapped feed; keeping it again changes nothing.

    Parameters
    ----------
    data_dir
        Data folder.
    mapped
        All rows after the mapping, before any judgement.
    mapping_text
        The mapping file, kept beside the rows.

    Notes
    -----
    The folder is written beside its place, flushed to the disk, then renamed: it is there whole or not at all.
    """
    feeds = feeds_dir(data_dir)
    feeds.mkdir(parents=True, exist_ok=True)
    for left_over in feeds.glob(".writing-*"):
        shutil.rmtree(left_over)
    manifest = _manifest(mapped, mapping_text)
    name = _name(manifest)
    if not feed_damage(data_dir, name):
        return KeptFeed(name, anew=False)
    folder = feeds / f".writing-{name}"
    folder.mkdir()
    _write(folder / MAPPING, lambda path: path.write_text(mapping_text, encoding="utf-8", newline="\n"))
    for table in mapped.tables:
        _write(folder / f"{table}.parquet", partial(write_parquet, rows_of(mapped.tables, table)))
    manifest["written"] = {file.name: file_hash(file) for file in sorted(folder.iterdir())}
    text = _manifest_text(manifest)
    _write(folder / MANIFEST, lambda path: path.write_text(text, encoding="utf-8", newline="\n"))
    _put_in_place(folder, feeds / name)
    return KeptFeed(name, anew=True)


def file_hash(path: Path) -> str:
    """Return the SHA-256 of a file's bytes, as hexadecimal digits."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def feed_damage(data_dir: Path, name: str) -> str:
    """Say what is wrong with a kept feed; an empty text means that every byte is as it was written."""
    folder = feeds_dir(data_dir) / name
    if not folder.is_dir():
        return f"the kept feed {name[:8]} is gone"
    try:
        text = (folder / MANIFEST).read_text(encoding="utf-8")
        manifest = json.loads(text)
        as_written = text == _manifest_text(manifest)
        written = dict(manifest.pop("written"))
        if not as_written or _name(manifest) != name:
            return f"the manifest of the kept feed {name[:8]} was changed"
        changed = [file for file, sha in written.items() if file_hash(folder / file) != sha]
        complete = {MAPPING, *(f"{table}.parquet" for table in manifest["tables"])} == set(written)
    except FileNotFoundError as error:
        return f"the kept feed {name[:8]} lacks its file {Path(error.filename).name}"
    except OSError as error:
        return f"the kept feed {name[:8]} cannot be read ({error.strerror or 'the disk gives no reason'})"
    except (ValueError, KeyError, AttributeError, TypeError):
        return f"the manifest of the kept feed {name[:8]} was changed"
    if changed or not complete:
        return f"the kept feed {name[:8]} was changed: {', '.join(changed) or 'files are missing from its manifest'}"
    return ""


def original_files(data_dir: Path, name: str) -> str:
    """Return the names of the files a kept feed was read from, as far as its manifest still tells them."""
    try:
        manifest = json.loads((feeds_dir(data_dir) / name / MANIFEST).read_text(encoding="utf-8"))
        return ", ".join(str(file) for file, _ in manifest["files"]) or UNNAMED
    except (OSError, ValueError, KeyError, TypeError):
        return UNNAMED


def read_feed(data_dir: Path, name: str, *, at_once: bool = True) -> tuple[MappedFeed, str]:
    """Read a kept feed back, and the text of its mapping.

    Parameters
    ----------
    data_dir
        Data folder.
    name
        Hash of the feed.
    at_once
        Whether all rows are read now; else part by part whenever they are asked for, as long as the feed is there.

    Raises
    ------
    LedgerError
        If it is gone or was changed since it was kept.
    """
    folder = feeds_dir(data_dir) / name
    damage = feed_damage(data_dir, name)
    if damage:
        originals = original_files(data_dir, name)
        raise LedgerError(
            damage,
            where=str(folder),
            next_step=f"load {originals} again, unchanged, with the same mapping, which mends the kept feed, "
            "or restore a copy of the data folder",
        )
    manifest = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
    rows = Tables({table: ParquetRows(folder / f"{table}.parquet") for table in manifest["tables"]})
    tables = Tables({table: Parts([frame]) for table, frame in rows.items()}) if at_once else rows
    files = tuple((file, sha) for file, sha in manifest["files"])
    mapped = MappedFeed(manifest["source"], tables, manifest["settings"], (), files)
    return mapped, (folder / MAPPING).read_text(encoding="utf-8")


def _manifest_text(manifest: dict[str, Any]) -> str:
    return json.dumps(manifest, indent=1, sort_keys=True)


def _name(manifest: dict[str, Any]) -> str:
    return text_hash(json.dumps(manifest, sort_keys=True))


def _write(path: Path, write: Callable[[Path], object]) -> None:
    write(path)
    with path.open("rb") as file:
        os.fsync(file.fileno())


def _put_in_place(folder: Path, place: Path) -> None:
    _sync_folder(folder)
    if place.exists():
        shutil.rmtree(place)
    folder.replace(place)
    _sync_folder(place.parent)


def _sync_folder(folder: Path) -> None:
    if os.name == "nt":  # Windows opens no folders
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
