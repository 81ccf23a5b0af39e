"""Examine the journal and the kept feeds: whether the ledger could be built again from them."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from analytics.errors import LedgerError
from analytics.ledger.feeds import UNNAMED, feed_damage, feeds_dir, original_files
from analytics.ledger.journal import journal_path, newest_load, read_journal

if TYPE_CHECKING:
    from pathlib import Path

    import polars as pl

REBUILD = "build the ledger again from the kept feeds: `wearledger rebuild`"
RESTORE = "restore a copy of the data folder"


@dataclass(frozen=True, slots=True)
class Kept:
    """What was found of the journal and the kept feeds.

    Attributes
    ----------
    journal_says
        What is wrong with the journal; empty = it can be read.
    steps
        What was done to the ledger, oldest first, as far as the journal can be read.
    damage
        What is wrong with each feed that the journal names, by its hash; empty = every byte is as written.
    originals
        Names of the files each of these feeds was read from, where its manifest or the ledger tells them.
    journal_gone
        Whether the journal is gone, and `steps` are those that the ledger tells.
    """

    journal_says: str
    steps: list[dict[str, Any]]
    damage: dict[str, str]
    originals: dict[str, str]
    journal_gone: bool = False

    @property
    def advice(self) -> str:
        """What to do about a damaged ledger: never a rebuild that cannot succeed."""
        if self.journal_says:
            return f"{RESTORE}: it cannot be built again, because {self.journal_says}"
        if not self.steps:
            return "no load is noted to build it again from: load the original files into another folder (--data)"
        damaged = [name for name, says in self.damage.items() if says]
        if damaged:
            named = ", ".join(f"{name[:8]} ({self.originals[name]})" for name in damaged)
            return (
                f"it cannot be built again before each kept feed is whole, and these are not: {named}. Load each of "
                "these files again from its original, with the same mapping (the load is refused, and mends the kept "
                f"feed), then run `wearledger rebuild`; or {RESTORE}"
            )
        return REBUILD

    @property
    def newest(self) -> int:
        """Number of the newest load that is noted."""
        return max((newest_load(step) for step in self.steps), default=0)

    @property
    def live(self) -> set[int]:
        """Numbers of the loads that count by the journal."""
        numbers: set[int] = set()
        for step in self.steps:
            if step["did"] == "load":
                numbers.add(step["load_id"])
            elif step["did"] == "undo":
                numbers = {number for number in numbers if number < step["load_id"]} | {*step["again"]}
        return numbers


def examine_kept(data_dir: Path) -> Kept:
    """Read the journal of a data folder and every byte of the feeds it names."""
    try:
        steps, says = read_journal(data_dir), ""
    except LedgerError as error:
        steps, says = [], error.what
    names = dict.fromkeys(step["feed"] for step in steps if step["did"] == "load")
    damage = {name: feed_damage(data_dir, name) for name in names}
    return Kept(says, steps, damage, {name: original_files(data_dir, name) for name in names})


def as_told_by_ledger(data_dir: Path, kept: Kept, untold: list[dict[str, Any]], loaded: pl.DataFrame) -> Kept:
    """Return what was found, with what the ledger tells of steps, feeds and original files.

    Parameters
    ----------
    data_dir
        Data folder.
    kept
        As from `examine_kept`.
    untold
        Steps of the ledger that are not in the journal yet; all of them where it is gone.
    loaded
        Columns of ``doctor_feeds.sql``.
    """
    pairs = loaded.select("feed_hash", "files").unique(maintain_order=True).rows()
    told = {name: ", ".join(file for file, _ in json.loads(files)) for name, files in pairs}
    originals = kept.originals | {name: original_files(data_dir, name) for name in told if name not in kept.originals}
    # a first load that was not noted yet is no loss: its process ended early
    first = [step["did"] for step in untold] == ["load"]
    return replace(
        kept,
        steps=[*kept.steps, *untold],
        damage=kept.damage | {name: feed_damage(data_dir, name) for name in told if name not in kept.damage},
        originals={name: (told.get(name) or each) if each == UNNAMED else each for name, each in originals.items()},
        journal_gone=bool(untold) and not first and not journal_path(data_dir).exists(),
    )


def remedy(kept: Kept, name: str) -> str:
    """Return what puts a kept feed back."""
    return (
        f"load {kept.originals[name]} again, unchanged, with the same mapping: that puts it back "
        f"and changes nothing else; or {RESTORE}"
    )


def stray_feeds(data_dir: Path, kept: Kept) -> list[str]:
    """Return the hashes of kept feeds that no load names: a load that was stopped leaves one."""
    folders = [folder.name for folder in feeds_dir(data_dir).glob("*") if folder.is_dir()]
    return sorted(name for name in folders if name not in kept.damage and not name.startswith("."))
