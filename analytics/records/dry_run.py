"""Say what loading a feed would do, without loading it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

import polars as pl

from analytics.errors import FeedError
from analytics.records.between_rows import between_rows
from analytics.records.conversions import conversions
from analytics.records.feed import FEED
from analytics.records.judge import Judged, judge
from analytics.records.mapped import NAMES_NO_TABLE, NOTHING, MappedFeed, feeding_of, map_feed
from analytics.records.mapping import KEYED_HASH
from analytics.records.mapping_file import parse_mapping, parse_mapping_text
from analytics.records.proposal import propose_mapping, propose_settings

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date

    from analytics.records.known import Known
    from analytics.records.mapping import Mapping

SHOWN = 10
"""Rows printed per table."""

FATES = ("accepted", "unchanged", "revised", "quarantined")


class Outcome(Protocol):
    """What taking a feed beside the records loaded before would come to.

    Attributes
    ----------
    files
        ``table``, ``file``, and by what would become of them, numbers of rows and of values set aside.
    quarantined
        ``table``, ``file``, ``row_no``, ``column``, ``says`` of rows that would newly go to quarantine.
    cautions
        Sentences on what would be taken and is worth a look.
    mended
        Rows of the quarantine that it would mend.
    """

    @property
    def files(self) -> pl.DataFrame: ...  # noqa: D102 - told above
    @property
    def quarantined(self) -> pl.DataFrame: ...  # noqa: D102 - told above
    @property
    def cautions(self) -> tuple[str, ...]: ...  # noqa: D102 - told above
    @property
    def mended(self) -> int: ...  # noqa: D102 - told above


@dataclass(frozen=True, slots=True)
class Beside:
    """The records loaded before, as far as a dry run asks them; as it stands, none.

    Attributes
    ----------
    known
        What they tell of cars and parts.
    trial
        Returns what taking a feed, read with the text of a mapping, would come to; None = nobody can be asked.
    """

    known: Known = NOTHING
    trial: Callable[[MappedFeed, str], Outcome] | None = None


ALONE = Beside()


def dry_run(path: Path, mapping_path: Path | None, *, loaded_on: date, beside: Beside = ALONE) -> list[str]:
    """Return, line by line, what loading the feed would do; propose a mapping where the feed is not native.

    Parameters
    ----------
    path
        File or folder of the feed.
    mapping_path
        Mapping file, None where there is none.
    loaded_on
        Day the load would happen.
    beside
        The records loaded before.

    Returns
    -------
    list of str
        Lines to print. Without a mapping, for a feed that is not native, they begin with a proposal; for a native
        feed of which more could be read if it were said how it writes dates and numbers, they end with one. It is
        also written beside the feed unless a file of that name is there.

    Raises
    ------
    FeedError
        If the feed or the mapping cannot be read.
    """
    run = _Run(path, loaded_on, beside)
    if mapping_path is not None:
        mapping = parse_mapping(mapping_path)
        return run.told(*run.read(mapping), mapping_path.read_text(encoding="utf-8"))
    try:
        mapped, judged = run.read(None)
    except FeedError as refusal:
        return [f"not a native feed: {refusal.what}", "", *_proposed(run)]
    lines = [*run.told(mapped, judged, ""), *_read_better(run, mapped, judged)]
    others = sorted({note.split(":")[0] for note in mapped.notes if note.endswith(NAMES_NO_TABLE)})
    if not others:
        return lines
    named = f"{', '.join(others)}: named after no native table; a mapping that reads all files of the feed:"
    return [*lines, "", named, "", *_proposed(run)]


@dataclass(frozen=True, slots=True)
class _Run:
    """One feed that is tried."""

    path: Path
    loaded_on: date
    beside: Beside

    def read(self, mapping: Mapping | None) -> tuple[MappedFeed, dict[str, Judged]]:
        """Return the feed after a mapping, and what a judge makes of each of its tables."""
        mapped = map_feed(self.path, mapping, self.beside.known)
        judged = {
            name: judge(name, rows, loaded_on=self.loaded_on, settings=mapped.settings)
            for name, rows in mapped.tables.items()
        }
        return mapped, judged

    def told(self, mapped: MappedFeed, judged: dict[str, Judged], mapping_text: str) -> list[str]:
        """Return the lines that describe it, beside the records loaded before if they can be asked."""
        trial = self.beside.trial
        mapping = parse_mapping_text(mapping_text, "mapping") if mapping_text else None
        converted = conversions(feeding_of(self.path, mapping), "mapping")
        return describe(mapped, judged, trial(mapped, mapping_text) if trial else None, converted)


def _proposed(run: _Run) -> list[str]:
    """Propose a mapping, write it beside the feed, and return how the feed is read with it."""
    proposal = propose_mapping(run.path, run.loaded_on)
    lines = [*proposal.splitlines(), "", _keep(run.path, proposal)]
    try:
        read = run.read(parse_mapping_text(proposal, "proposal"))
        return [*lines, "", "Read with this mapping:", *run.told(*read, proposal)]
    except FeedError as refusal:
        return [*lines, f"It is not complete yet: {refusal.what}; {refusal.next_step}"]


def describe(
    mapped: MappedFeed,
    judged: dict[str, Judged],
    outcome: Outcome | None = None,
    converted: dict[str, list[str]] | None = None,
) -> list[str]:
    """Return lines that say what was read, converted, set aside and quarantined, with an example each.

    Parameters
    ----------
    mapped
        The feed after its mapping.
    judged
        Judgement of each of its tables, by name.
    outcome
        What becomes of its rows beside the records loaded before; None = each row is judged by itself.
    converted
        Lines by table on what is read otherwise than it stands in the file, as `conversions` returns them.
    """
    lines: list[str] = []
    for name, rows in mapped.tables.items():
        found = judged[name]
        refused = outcome.quarantined.filter(pl.col("table") == name) if outcome else found.quarantined
        lines += [_files(name, rows), _counts(found) if outcome is None else _fates(name, outcome)]
        lines += [*_first_rows(name, found), *(converted or {}).get(name, []), *_findings(found, refused), ""]
    notes = list(mapped.notes)
    if mapped.settings.get("vehicle_id") == KEYED_HASH:
        notes.append("vehicle_id is shown as it is read; a keyed hash takes its place before anything is written")
    lines += between_rows(judged) if outcome is None else _beside(outcome)
    return [*lines, *(f"note: {note}" for note in notes)]


def _read_better(run: _Run, mapped: MappedFeed, judged: dict[str, Judged]) -> list[str]:
    """Propose how a native feed writes dates and numbers, if more of it can be read so."""
    proposal = propose_settings(mapped, run.loaded_on)
    if not proposal:
        return []
    again = run.read(parse_mapping_text(proposal, "proposal"))
    gained = _not_read(judged) - _not_read(again[1])
    if gained <= 0:
        return []
    return [
        "",
        f"{gained} more row(s) and value(s) can be read with this mapping:",
        "",
        *proposal.splitlines(),
        "",
        _keep(run.path, proposal),
        "",
        "Read with this mapping:",
        *run.told(*again, proposal),
    ]


def _not_read(judged: dict[str, Judged]) -> int:
    return sum(found.quarantined.height + found.set_aside.height for found in judged.values())


def _keep(path: Path, proposal: str) -> str:
    whole = Path(path).resolve()
    target = whole.with_name(f"{whole.stem}.mapping.toml")
    try:
        with target.open("x", encoding="utf-8", newline="\n") as file:
            file.write(proposal)
    except FileExistsError:
        return f"{target} is there already and was left as it is"
    except OSError:
        return f"{target} could not be written; copy the lines above into a file of your own"
    return f"written to {target}; check every line marked with a guess, then load with --mapping {target}"


def _files(name: str, rows: pl.DataFrame) -> str:
    files = ", ".join(f"{file} ({count})" for file, count in rows["file"].value_counts(sort=True).sort("file").rows())
    return f"{name}: {rows.height} row(s) from {files or 'no file'}"


def _counts(judged: Judged) -> str:
    return (
        f"  to be loaded {judged.accepted.height}, to quarantine {judged.quarantined.height}, "
        f"values set aside {judged.set_aside.height}"
    )


def _fates(name: str, outcome: Outcome) -> str:
    """Say what becomes of a table's rows beside the ledger; in the words of a load."""
    counts = outcome.files.filter(pl.col("table") == name).select(pl.col(*FATES, "set_aside").sum()).row(0, named=True)
    fresh = outcome.quarantined.filter(pl.col("table") == name).select("file", "row_no").n_unique()
    waiting = f" ({counts['quarantined'] - fresh} of them known there)" if counts["quarantined"] > fresh else ""
    return (
        f"  new {counts['accepted']}, unchanged {counts['unchanged']}, revised {counts['revised']}, "
        f"to quarantine {counts['quarantined']}{waiting}, values set aside {counts['set_aside']}"
    )


def _beside(outcome: Outcome) -> list[str]:
    mended = [f"{outcome.mended} row(s) that wait in quarantine would be mended"] if outcome.mended else []
    return [*mended, *outcome.cautions]


def _first_rows(name: str, judged: Judged) -> list[str]:
    lines = []
    for row in judged.accepted.head(SHOWN).iter_rows(named=True):
        completed = set((row["inferred"] or "").split(";"))
        told = [
            f"{column} {_shown(row[column])}{'*' if column in completed else ''}"
            for column in FEED[name].names
            if row[column] is not None
        ]
        lines.append(f"  row {row['row_no']}: {' | '.join(told)}")
    if any("*" in line for line in lines):
        lines.append("  (* filled in or completed, not written so in the file)")
    return lines


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.15g}"
    return str(value)


def _findings(judged: Judged, quarantined: pl.DataFrame) -> list[str]:
    inferred = judged.accepted["inferred"].drop_nulls().str.split(";").explode().value_counts(sort=True)
    lines = [
        f"  filled in or completed: {column}, {count} row(s)" for column, count in inferred.sort("inferred").rows()
    ]
    if "odometer" in judged.accepted.columns:
        units = (
            judged.accepted.filter(pl.col("odometer").is_not_null())["odometer_unit"]
            .value_counts()
            .sort("odometer_unit")
        )
        lines += [f"  odometer in {unit}: {count} row(s)" for unit, count in units.rows()]
    for title, found in (("set aside", judged.set_aside), ("to quarantine", quarantined)):
        by_column = found.group_by("column", maintain_order=True).agg(pl.len(), pl.first("file", "row_no", "says"))
        lines += [
            f"  {title}: {count} x {column or 'row'}, first in {file}, row {row_no}: {says}"
            for column, count, file, row_no, says in by_column.rows()
        ]
    return lines
