"""How commands speak: stages on stderr, hints that can be pasted."""

from __future__ import annotations

import os
import re
import shlex
import sys
from contextlib import suppress
from time import monotonic
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argparse import Namespace
    from pathlib import Path

NO_TERMINAL = 400
"""Columns of a table that is printed into a file or pipe."""

COMMAND = re.compile(r"\bwearledger ([a-z]+)\b")


class Stages:
    """Says on stderr what is being done, and how long it took."""

    def __init__(self) -> None:
        self._started = monotonic()

    def __call__(self, what: str) -> None:
        """Say what begins now; that nobody listens any more stops no work."""
        with suppress(BrokenPipeError):
            sys.stderr.write(f"{monotonic() - self._started:5.1f} s  {what}\n")
            sys.stderr.flush()

    def done(self) -> None:
        """Say that all is done."""
        self("done")


def with_data(text: str, data_dir: Path | None) -> str:
    """Return the text with ``--data DIR`` in every command it names, as the reader has to type it.

    Parameters
    ----------
    text
        Sentences that name commands.
    data_dir
        Folder the reader named on the command line; None = none was named.

    Examples
    --------
    >>> from pathlib import Path
    >>> with_data("next: wearledger analyse", Path("my shop"))
    "next: wearledger analyse --data 'my shop'"
    """
    if data_dir is None:
        return text
    told = f" --data {shlex.quote(str(data_dir))}"
    return COMMAND.sub(lambda found: found.group(0) + told, text)


def say_next(command: str, chosen: Namespace) -> None:
    """Print what to type next.

    Parameters
    ----------
    command
        Command, without ``--data``.
    chosen
        What the reader typed.
    """
    sys.stdout.write(f"next: {with_data(command, chosen.data)}\n")


def terminal_width() -> int:
    """Return the columns a table may take."""
    try:
        return max(80, os.get_terminal_size().columns)
    except OSError:  # not a terminal
        return NO_TERMINAL
