"""The first hour of a new user: three cars and twenty lines, typed by hand, nothing else."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

from sample_data.catalogue import SCENARIO

if TYPE_CHECKING:
    from pathlib import Path

TABLES = ("vehicles", "repairs")


def write_twenty(folder: Path) -> None:
    """Write a feed of 3 cars and 20 job lines, without any catalogue, into `folder`.

    Parameters
    ----------
    folder
        Folder of the feed; made if it is not there.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for name in TABLES:
        shutil.copyfile(SCENARIO / f"twenty_{name}.csv", folder / f"{name}.csv")
