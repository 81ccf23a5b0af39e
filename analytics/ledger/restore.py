"""Put a backup back into an empty data folder, after every byte of it has been checked."""

from __future__ import annotations

import json
import os
import shutil
import stat
import zipfile
import zlib
from typing import TYPE_CHECKING, Any

from analytics.errors import LedgerError, OutputError
from analytics.ledger.archive import FORMAT, KEY, KNOWN, MANIFEST, SEAL, copied, whole_hash
from analytics.ledger.connect import ledger_path
from analytics.ledger.schema import SCHEMA_VERSION
from analytics.ledger.turn import lock_path

if TYPE_CHECKING:
    from pathlib import Path

LARGEST_MANIFEST = 50_000_000
"""Bytes; one of a hundred thousand files is smaller."""

ENCRYPTED = 0x1


def restore(data_dir: Path, source: Path) -> int:
    """Put a backup into a data folder that is missing or empty.

    Parameters
    ----------
    data_dir
        Data folder to be.
    source
        Archive written by `backup`.

    Returns
    -------
    int
        Files put back.

    Raises
    ------
    OutputError
        If the data folder holds something.
    LedgerError
        If the archive is damaged, was written by another version, or holds anything a backup does not.
    OSError
        If the archive cannot be read or the folder cannot be written.

    Notes
    -----
    All files are written into a folder beside the data folder and checked there; it is renamed at the end. A process
    killed at any moment leaves the data folder whole or as it was.
    """
    place = data_dir.resolve()
    if place.exists() and any(path != lock_path(place) for path in place.iterdir()):
        raise OutputError(
            f"{data_dir} is not empty, and a restore overwrites nothing",
            where="restore --data",
            next_step="name an empty or new folder with --data",
        )
    beside = place.with_name(f".{place.name}.restoring")
    with source.open("rb") as file:
        _check_whole(file, source)
        try:
            with zipfile.ZipFile(file) as archive:
                entries = {entry.filename: entry for entry in archive.infolist()}
                manifest = _manifest(archive, entries, source)
                files = _files(archive, entries, manifest, source)
                place.parent.mkdir(parents=True, exist_ok=True)
                shutil.rmtree(beside, ignore_errors=True)
                try:
                    _need_room(place.parent, files)
                    for told in files:
                        _extract(archive, entries[told["name"]], told, beside, source)
                    _put_in_place(beside, place)
                finally:
                    shutil.rmtree(beside, ignore_errors=True)
        except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, UnicodeDecodeError):
            raise _damaged(source, "it cannot be unpacked") from None
    return len(files)


def _check_whole(file: Any, source: Path) -> None:  # noqa: ANN401 - a file open for reading bytes
    if file.seek(0, 2) > SEAL:
        digest, seal = whole_hash(file)
        if digest == seal:
            return
    raise _damaged(source, "its bytes are not those that were written, or it is no backup of this program")


def _manifest(archive: zipfile.ZipFile, entries: dict[str, zipfile.ZipInfo], source: Path) -> dict[str, Any]:
    entry = entries.get(MANIFEST)
    if entry is None or entry.file_size > LARGEST_MANIFEST or len(entries) != len(archive.infolist()):
        raise _damaged(source, "it has no manifest, or two files of one name")
    with archive.open(entry) as packed:
        text = packed.read(LARGEST_MANIFEST + 1)
    try:
        manifest = json.loads(text)
        written, schema = int(manifest["format"]), int(manifest["schema"])
    except (ValueError, KeyError, TypeError):
        raise _damaged(source, "its manifest cannot be read") from None
    # a ledger of an earlier schema can be built again from the kept feeds, and says so when it is opened
    if written != FORMAT or schema > SCHEMA_VERSION:
        raise LedgerError(
            f"this backup has format {written} with ledger schema {schema}; "
            f"this program reads format {FORMAT} with schemas up to {SCHEMA_VERSION}",
            where=str(source),
            next_step=f"restore it with the version that wrote it: wearledger {manifest.get('version')}",
        )
    return dict(manifest)


def _files(
    archive: zipfile.ZipFile, entries: dict[str, zipfile.ZipInfo], manifest: dict[str, Any], source: Path
) -> list[dict[str, Any]]:
    """Return what the manifest says of each file, after it was compared with what the archive says it holds."""
    try:
        files: list[dict[str, Any]] = [
            {"name": str(each["name"]), "size": int(each["size"]), "sha256": str(each["sha256"])}
            for each in manifest["files"]
        ]
    except (KeyError, TypeError, ValueError):
        raise _damaged(source, "its manifest cannot be read") from None
    names = [each["name"] for each in files]
    strange = [name for name in (*names, *entries) if name != MANIFEST and not KNOWN.fullmatch(name)]
    if strange:
        raise _damaged(source, f"it holds {strange[0]!r}, which no backup holds")
    if sorted([*names, MANIFEST]) != sorted(entries) or "ledger.duckdb" not in names:
        raise _damaged(source, "its files are not those of its manifest")
    for entry in archive.infolist():
        kind = stat.S_IFMT(entry.external_attr >> 16)
        if kind not in {0, stat.S_IFREG} or entry.flag_bits & ENCRYPTED or entry.is_dir():
            raise _damaged(source, f"{entry.filename} is no plain file")
    if any(each["size"] != entries[each["name"]].file_size for each in files):
        raise _damaged(source, "sizes are not those of its manifest")
    return files


def _need_room(folder: Path, files: list[dict[str, Any]]) -> None:
    needed, free = sum(each["size"] for each in files), shutil.disk_usage(folder).free
    if needed > free:
        raise OutputError(
            f"the backup unpacks to {needed / 1e6:,.0f} MB, and {free / 1e6:,.0f} MB are free",
            where=str(folder),
            next_step="make room, or name a folder on another disk with --data",
        )


def _extract(
    archive: zipfile.ZipFile, entry: zipfile.ZipInfo, told: dict[str, Any], beside: Path, source: Path
) -> None:
    secret = entry.filename == KEY
    path = beside / entry.filename
    path.parent.mkdir(parents=True, exist_ok=True)
    if secret:
        path.parent.chmod(0o700)
    handle = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600 if secret else 0o666)
    with archive.open(entry) as packed, os.fdopen(handle, "wb") as file:
        size, digest = copied(packed.read, file.write, told["size"])
        file.flush()
        os.fsync(file.fileno())
    if (size, digest) != (told["size"], told["sha256"]):
        raise _damaged(source, f"{entry.filename} is not what was written")


def _put_in_place(beside: Path, place: Path) -> None:
    if not ledger_path(beside).exists():
        raise OSError(f"{beside} was taken away meanwhile")
    try:
        lock_path(place).unlink(missing_ok=True)
        beside.replace(place)  # an empty folder is replaced in one step
    except OSError:
        place.rmdir()  # not so on every system; refuses where something has come meanwhile
        beside.replace(place)


def _damaged(source: Path, why: str) -> LedgerError:
    return LedgerError(
        f"the backup is not used: {why}; nothing was put in place",
        where=str(source),
        next_step="take another copy of it, or an earlier backup",
    )
