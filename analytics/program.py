"""Which program computed a result: its version and a digest of its own text."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.metadata import version
from pathlib import Path

PACKAGE = Path(__file__).resolve().parent
COMPUTING = (".py", ".sql")
"""Ends of the files that decide what a figure is."""


@cache
def program_version() -> str:
    """Return the version with a digest of the package's own files, like ``0.1.0+3fa9c04e``.

    Notes
    -----
    A snapshot's id is made from it, so that the same ledger analysed by changed code is another result, even where
    nobody raised the version.
    """
    digest = hashlib.sha256()
    for path in sorted(PACKAGE.rglob("*"), key=lambda path: path.relative_to(PACKAGE).as_posix()):
        if path.suffix in COMPUTING:
            content = path.read_bytes().replace(b"\r\n", b"\n")
            digest.update(f"{path.relative_to(PACKAGE).as_posix()}\0{len(content)}\0".encode() + content)
    return f"{version('wearledger')}+{digest.hexdigest()[:8]}"
