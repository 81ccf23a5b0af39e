"""Folders and files that a person names: read from the command line, and told in words where they cannot be used."""

from __future__ import annotations

import errno
import os
from argparse import ArgumentTypeError
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from analytics.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Iterator

FORBIDDEN = {errno.EACCES, errno.EPERM, errno.EROFS}
FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
NOT_THERE = {errno.ENOENT, errno.ENOTDIR, errno.EEXIST, errno.EISDIR}
NAME_A_FILE = "name a file in a folder that is there and may be written to"
NAME_A_FOLDER = "name a folder that is there, or a new one in a folder that may be written to"


def named(text: str) -> Path:
    """Return the path that was typed.

    Raises
    ------
    ArgumentTypeError
        If nothing was typed: an empty path would silently mean the working folder.

    Examples
    --------
    >>> named("jobs.xlsx").suffix
    '.xlsx'
    """
    if not text.strip():
        raise ArgumentTypeError(f"{text!r} names no file or folder; write its name, or . for the working folder")
    return Path(text)


def reason(path: Path, error: OSError) -> str:
    """Say in plain words why a file or folder cannot be used.

    Parameters
    ----------
    path
        The file or folder meant.
    error
        What the operating system said.

    Examples
    --------
    >>> reason(Path("/nowhere/jobs.xlsx"), FileNotFoundError(errno.ENOENT, "no"))
    'the folder /nowhere is not there'
    """
    if error.errno in FORBIDDEN:
        return "this user may not read or write there"
    if error.errno in FULL:
        return "the disk is full"
    if error.errno not in NOT_THERE:
        return error.strerror or str(error)
    there = next((each for each in (path, *path.absolute().parents) if os.path.lexists(each)), path)
    if there == path:
        return "it is a folder" if path.is_dir() else "it is a file"
    if not there.is_dir():
        return f"{there} is a file, not a folder"
    if there == path.absolute().parent:
        return f"the folder {there} takes nothing new"
    return f"the folder {path.parent} is not there"


@contextmanager
def writing(path: Path, option: str, *, folder: bool = False) -> Iterator[None]:
    """Turn a file or folder that cannot be written into a sentence that names it.

    Parameters
    ----------
    path
        What is written.
    option
        Command and option that named it.
    folder
        Whether it is a folder.

    Raises
    ------
    OutputError
        If it cannot be written.
    """
    try:
        yield
    except OSError as error:
        step = NAME_A_FOLDER if folder else NAME_A_FILE
        raise OutputError(f"{path} cannot be written: {reason(path, error)}", where=option, next_step=step) from error


def not_usable(error: OSError, data_dir: Path) -> OutputError:
    """Return the refusal of a command that met a file or folder which cannot be used.

    Parameters
    ----------
    error
        What the operating system said.
    data_dir
        The data folder of the command.
    """
    path = Path(os.fsdecode(error.filename)) if error.filename else data_dir
    inside = data_dir.absolute() in (path.absolute(), *path.absolute().parents)
    if inside and (error.errno in FORBIDDEN or not data_dir.is_dir()):
        return OutputError(
            f"the data folder {data_dir} cannot be used: {reason(data_dir, error)}",
            where="--data or WEARLEDGER_DATA",
            next_step=f"{NAME_A_FOLDER}, as --data DIR",
        )
    said = "it is not there" if error.errno == errno.ENOENT and not path.exists() else reason(path, error)
    step = "make room on it" if error.errno in FULL else "look at it, or name another one"
    return OutputError(f"{path} cannot be used: {said}", where=str(path), next_step=step)
