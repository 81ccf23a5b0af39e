"""How commands speak: stages on stderr, hints that can be pasted."""

from __future__ import annotations

import json
import os
import re
import shlex
import sys
from contextlib import suppress
from time import monotonic
from typing import TYPE_CHECKING

import polars as pl

from analytics.cells import neutralised
from analytics.counting import count

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


def print_table(frame: pl.DataFrame, form: str) -> None:
    """Print rows.

    Parameters
    ----------
    frame
        The rows.
    form
        ``csv``, ``json`` or ``table``.
    """
    if form == "csv":
        sys.stdout.write(neutralised(frame).write_csv())
    elif form == "json":
        sys.stdout.write(json.dumps(frame.to_dicts(), default=str, ensure_ascii=False, indent=1) + "\n")
    else:
        with pl.Config(
            tbl_rows=-1,
            tbl_cols=-1,
            tbl_width_chars=terminal_width(),
            fmt_str_lengths=60,
            tbl_hide_dataframe_shape=True,
            tbl_hide_column_data_types=True,
        ):
            sys.stdout.write(f"{frame}\n{count(frame.height, 'row')}\n")
