"""Copy a data folder into one archive, while nobody writes."""

from __future__ import annotations

import json
import os
import zipfile
from contextlib import ExitStack, nullcontext
from dataclasses import dataclass
from importlib.metadata import version
from typing import TYPE_CHECKING

from analytics.errors import LedgerError, OutputError
from analytics.ledger.archive import FORMAT, KEY, KNOWN, MANIFEST, SEAL, copied, whole_hash
from analytics.ledger.connect import ledger_path, open_ledger
from analytics.ledger.journal import note_loads
from analytics.ledger.load import WRITING
from analytics.ledger.schema import SCHEMA_VERSION

if TYPE_CHECKING:
    from pathlib import Path

BEFORE_1980 = (1980, 1, 1, 0, 0, 0)
"""The archive keeps no times: the same data folder gives the same archive."""


@dataclass(frozen=True, slots=True)
class BackedUp:
    """What a backup holds.

    Attributes
    ----------
    files
        Files copied.
    size
        Bytes of the archive.
    key_left_out
        Whether the folder has a private key that was not copied.
    """

    files: int
    size: int
    key_left_out: bool


def backup(data_dir: Path, target: Path, *, with_key: bool = False) -> BackedUp:
    """Copy ledger, kept feeds with their mappings, journal and snapshots into one archive.

    Parameters
    ----------
    data_dir
        Data folder.
    target
        Archive to write; it must not be there yet.
    with_key
        Whether the private key that hides vehicle ids is copied as well.

    Raises
    ------
    LedgerError
        If there is no ledger, or another process holds it.
    OutputError
        If the file is there already, or lies within the data folder.
    OSError
        If it cannot be written.

    Notes
    -----
    The ledger is held, and nobody else can write, until all is copied. The archive is written beside its place,
    flushed to the disk, then given its name: it is there whole or not at all. Nothing in it names a place on this
    computer.
    """
    _refuse(data_dir, target)
    with WRITING, ExitStack() as stack:
        if not ledger_path(data_dir).exists():
            stack.enter_context(open_ledger(data_dir, write=False))  # says what to do
        connection = stack.enter_context(open_ledger(data_dir, write=True))
        note_loads(data_dir, connection)
        connection.execute("checkpoint")
        # a log that is left would hold rows which the file does not
        log = ledger_path(data_dir).with_suffix(".duckdb.wal")
        if log.exists() and log.stat().st_size:
            raise LedgerError(
                "the ledger's log could not be taken into its file", where=str(log), next_step="run the backup again"
            )
        for left_over in target.parent.glob(f".{target.name}.*.part"):
            left_over.unlink()
        beside = target.with_name(f".{target.name}.{os.getpid()}.part")
        try:
            files = _write(data_dir, beside, stack, with_key=with_key)
            _seal(beside)
            _put_in_place(beside, target)
        finally:
            beside.unlink(missing_ok=True)
    return BackedUp(files, target.stat().st_size, key_left_out=not with_key and (data_dir / KEY).exists())


def _refuse(data_dir: Path, target: Path) -> None:
    if target.exists():
        raise _there(target)
    if target.resolve().is_relative_to(data_dir.resolve()):
        raise OutputError(
            f"{target} lies within the data folder it is to save",
            where="backup --to",
            next_step="name a file elsewhere, best on another disk",
        )


def _there(target: Path) -> OutputError:
    return OutputError(f"{target} is there already", where="backup --to", next_step="name another file")


def _names(data_dir: Path, *, with_key: bool) -> list[str]:
    """Return what is to be copied, the ledger last."""
    found = [path for path in data_dir.rglob("*") if path.is_file() and not path.is_symlink()]
    names = {path.relative_to(data_dir).as_posix() for path in found}
    known = {name for name in names if KNOWN.fullmatch(name) and (with_key or name != KEY)}
    return sorted(known, key=lambda name: (name == ledger_path(data_dir).name, name))


def _write(data_dir: Path, beside: Path, stack: ExitStack, *, with_key: bool) -> int:
    told = []
    handle = os.open(beside, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600)
    with os.fdopen(handle, "w+b") as file, zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=3) as archive:
        for name in _names(data_dir, with_key=with_key):
            # closing any handle on the ledger lets its lock go, so this one stays open until the connection is closed
            ledger = name == ledger_path(data_dir).name
            with ExitStack() if not ledger else nullcontext(stack) as until:
                source = until.enter_context((data_dir / name).open("rb"))
                with archive.open(_entry(name), "w", force_zip64=True) as copy:
                    size, digest = copied(source.read, copy.write)
            told.append({"name": name, "size": size, "sha256": digest})
        manifest = {
            "format": FORMAT,
            "schema": SCHEMA_VERSION,
            "version": version("wearledger"),
            "files": told,
        }
        archive.writestr(_entry(MANIFEST), json.dumps(manifest, indent=1, sort_keys=True))
        archive.comment = b"0" * SEAL
    return len(told)


def _entry(name: str) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, BEFORE_1980)
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.external_attr = 0o600 << 16
    return entry


def _seal(path: Path) -> None:
    with path.open("r+b") as file:
        digest, _ = whole_hash(file)
        file.seek(-SEAL, 2)
        file.write(digest.encode())
        file.flush()
        os.fsync(file.fileno())


def _put_in_place(beside: Path, target: Path) -> None:
    """Give the archive its name; never that of a file which is there."""
    try:
        os.link(beside, target)
    except FileExistsError:
        raise _there(target) from None
    except OSError:  # a disk that knows no links, as many sticks
        if target.exists():
            raise _there(target) from None
        beside.replace(target)
