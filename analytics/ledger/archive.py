"""What a backup is: one ZIP file with a manifest of checksums, closed by the checksum of the whole."""

from __future__ import annotations

import hashlib
import re
from typing import TYPE_CHECKING, BinaryIO

if TYPE_CHECKING:
    from collections.abc import Callable

FORMAT = 1
"""Version of the archive; a restore refuses one it does not know."""

MANIFEST = "manifest.json"
KEY = "private/key"
KNOWN = re.compile(
    r"ledger\.duckdb"
    r"|feeds/journal\.jsonl"
    r"|feeds/[0-9a-f]{64}/[a-z_]+\.(?:parquet|json|toml)"
    r"|snapshots/(?:LATEST|\d{4}-\d\d-\d\d-[0-9a-f]+\.duckdb)"
    r"|private/key"
)
"""Every name an archive may hold, in whole; nothing else of a data folder is copied, nothing else is restored."""

SEAL = 64
"""The archive ends with so many signs: its comment, the SHA-256 of all bytes before them."""

CHUNK = 1 << 20


def whole_hash(file: BinaryIO) -> tuple[str, str]:
    """Return the SHA-256 of an archive up to its seal, and what the seal says.

    Parameters
    ----------
    file
        Archive open for reading, of at least `SEAL` bytes.
    """
    left = file.seek(0, 2) - SEAL
    file.seek(0)
    digest = hashlib.sha256()
    while left > 0:
        part = file.read(min(CHUNK, left))
        digest.update(part)
        left -= len(part)
    return digest.hexdigest(), file.read(SEAL).decode("ascii", errors="replace")


def copied(read: Callable[[int], bytes], write: Callable[[bytes], object], most: int | None = None) -> tuple[int, str]:
    """Copy in pieces and return size in bytes and SHA-256 of what was copied.

    Parameters
    ----------
    read, write
        Of the two files.
    most
        Stop after this and one byte more; None = copy all.
    """
    size, digest = 0, hashlib.sha256()
    while most is None or size <= most:
        part = read(CHUNK if most is None else min(CHUNK, most + 1 - size))
        if not part:
            break
        size += len(part)
        digest.update(part)
        write(part)
    return size, digest.hexdigest()
