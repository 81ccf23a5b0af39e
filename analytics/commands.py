"""What each command does, and what it says about it."""

from __future__ import annotations

import json
import os
import sys
from datetime import date
from time import monotonic
from typing import TYPE_CHECKING

import polars as pl

from analytics import records
from analytics.car_story import as_html, as_text, car_story
from analytics.cells import neutralised
from analytics.errors import FeedError, SnapshotError
from analytics.export import export_tables
from analytics.ledger import doctor as examine
from analytics.ledger import load as load_feed
from analytics.ledger import open_ledger, quarantine_rows, write_quarantine
from analytics.ledger import rebuild as rebuild_ledger
from analytics.ledger import undo as undo_load
from analytics.ledger import withdraw as withdraw_record
from analytics.pipeline import analyse as run_analysis
from analytics.snapshot import latest_path, open_snapshot, read_table

if TYPE_CHECKING:
    from argparse import Namespace
    from pathlib import Path

    from analytics.ledger import LoadReport


def demo(data_dir: Path, chosen: Namespace) -> int:
    """Generate the demo, load it, analyse it and, unless told not to, open the dashboard."""
    from sample_data.generate import generate

    folder = data_dir / "demo"
    if (data_dir / "ledger.duckdb").exists() and not folder.exists():
        raise FeedError(
            f"{data_dir} holds a ledger of your own; the demo would mix invented cars into it",
            where="demo --data",
            next_step="leave --data out, or name an empty folder",
        )
    said = _Stages()
    said("inventing 14 years of repairs of 160 cars")
    generate(folder / "feed")
    said("loading them")
    _say_loaded(load_feed(data_dir, records.map_feed(folder / "feed"), loaded_on=_today()))
    _analyse(data_dir, None, said)
    said.done()
    print(f"data folder: {data_dir}")
    if chosen.no_dashboard:
        print(f"to look at it: wearledger dashboard --data {data_dir}")
        return 0
    return _serve(data_dir, None)


def load(data_dir: Path, chosen: Namespace) -> int:
    """Load a feed, or with ``--dry-run`` only say what would happen."""
    if chosen.dry_run:
        for line in records.dry_run(chosen.feed, chosen.mapping, loaded_on=_today()):
            print(line)
        return 0
    mapping = records.parse_mapping(chosen.mapping) if chosen.mapping else None
    mapped = records.map_feed(chosen.feed, mapping)
    text = chosen.mapping.read_text(encoding="utf-8") if chosen.mapping else ""
    report = load_feed(data_dir, mapped, loaded_on=_today(), mapping_text=text, complete=chosen.complete)
    _say_loaded(report)
    print("next: wearledger analyse")
    return 0


def quarantine(data_dir: Path, chosen: Namespace) -> int:
    """List the rows that wait to be mended, or write them to a workbook."""
    with open_ledger(data_dir, write=False) as connection:
        if chosen.to:
            count = write_quarantine(connection, chosen.to)
            print(f"{count} rows written to {chosen.to}; mend them there, then: wearledger load {chosen.to}")
            return 0
        rows = quarantine_rows(connection)
    if rows.is_empty():
        print("nothing waits in quarantine")
        return 0
    for row in rows.iter_rows(named=True):
        print(f"{row['file']}, row {row['row_no']} ({row['table']}): {row['column']} = {row['value']!r}: {row['says']}")
    print(f"{rows.height} rows wait; to mend them: wearledger quarantine --to FILE.xlsx")
    return 0


def undo(data_dir: Path, chosen: Namespace) -> int:
    """Undo a load."""
    again = undo_load(data_dir, chosen.load_id)
    print(f"load {chosen.load_id} undone")
    for old, new in again.items():
        print(f"load {old} was taken again as load {new}")
    print("next: wearledger analyse")
    return 0


def withdraw(data_dir: Path, chosen: Namespace) -> int:
    """Withdraw an order or one of its lines."""
    lines = withdraw_record(data_dir, chosen.record, reason=chosen.reason)
    print(f"{lines} line(s) of {chosen.record} withdrawn: {chosen.reason}")
    print("next: wearledger analyse")
    return 0


def rebuild(data_dir: Path, chosen: Namespace) -> int:  # noqa: ARG001 - every command takes the same two
    """Build the ledger again from the kept feeds."""
    said = _Stages()
    rebuild_ledger(data_dir, progress=said)
    said.done()
    print("the ledger was built again; the old file stays beside it as ledger.before-rebuild.duckdb")
    return 0


def analyse(data_dir: Path, chosen: Namespace) -> int:
    """Compute everything as of a day and publish it."""
    said = _Stages()
    _analyse(data_dir, chosen.as_of, said)
    said.done()
    return 0


def show(data_dir: Path, chosen: Namespace) -> int:
    """Print a table of the newest snapshot."""
    equals = {"component": chosen.component} if chosen.component else {}
    with open_snapshot(latest_path(data_dir)) as connection:
        frame = read_table(connection, chosen.table, **equals)
    if chosen.format == "csv":
        sys.stdout.write(neutralised(frame).write_csv())
    elif chosen.format == "json":
        print(json.dumps(frame.to_dicts(), default=str, ensure_ascii=False, indent=1))
    else:
        with pl.Config(
            tbl_rows=-1,
            tbl_cols=-1,
            tbl_width_chars=_width(),
            fmt_str_lengths=60,
            tbl_hide_dataframe_shape=True,
            tbl_hide_column_data_types=True,
        ):
            print(frame)
        print(f"{frame.height} rows")
    return 0


def history(data_dir: Path, chosen: Namespace) -> int:
    """Print one car's story, or write it as a page."""
    story = car_story(latest_path(data_dir), chosen.vehicle)
    if chosen.to:
        chosen.to.write_text(as_html(story), encoding="utf-8")
        print(f"written to {chosen.to}")
    else:
        print(as_text(story))
    return 0


def dashboard(data_dir: Path, chosen: Namespace) -> int:
    """Open the dashboard on this computer."""
    latest_path(data_dir)
    return _serve(data_dir, chosen.port)


def export(data_dir: Path, chosen: Namespace) -> int:
    """Write every table of the newest snapshot for other programs."""
    snapshot = latest_path(data_dir)
    rows = export_tables(snapshot, chosen.to)
    for name, count in rows.items():
        print(f"{name}: {count} rows")
    print(f"{len(rows)} tables of {snapshot.stem} written to {chosen.to}, described in datapackage.json")
    return 0


def doctor(data_dir: Path, chosen: Namespace) -> int:  # noqa: ARG001 - every command takes the same two
    """Check the data folder; exit code 1 if something is wrong."""
    findings = examine(data_dir)
    for finding in findings:
        print(f"{'good ' if finding.ok else 'WRONG'}  {finding.kind}: {finding.says}")
    wrong = sum(not finding.ok for finding in findings)
    print("all good" if not wrong else f"{wrong} of {len(findings)} checks failed")
    return 1 if wrong else 0


def _analyse(data_dir: Path, as_of: date | None, said: _Stages) -> None:
    result = run_analysis(data_dir, as_of=as_of, progress=said)
    known = " (the same ledger and day as before: nothing new to write)" if result.already_known else ""
    print(f"snapshot {result.snapshot_id}, as of {result.as_of}{known}")


def _say_loaded(report: LoadReport) -> None:
    print(report.sentence())
    for line in report.warnings():
        print(line, file=sys.stderr)
    quarantined, set_aside = report.count("quarantined"), report.count("set_aside")
    if quarantined or set_aside:
        print(f"in all: {quarantined} rows quarantined, {set_aside} values set aside", file=sys.stderr)


def _serve(data_dir: Path, port: int | None) -> int:
    try:
        from dashboards.launch import serve
    except ImportError as error:
        raise SnapshotError(
            f"the dashboard is not installed: {error}", where="wearledger", next_step="install wearledger again"
        ) from error
    serve(data_dir, port)
    return 0


def _today() -> date:
    """Return today; the one place where a command reads the clock."""
    return date.today()  # noqa: DTZ011 - the day of loading is the user's own


def _width() -> int:
    try:
        return max(80, os.get_terminal_size().columns)
    except OSError:  # not a terminal
        return 400


class _Stages:
    """Says on stderr what is being done, and how long it took."""

    def __init__(self) -> None:
        self._started = monotonic()

    def __call__(self, what: str) -> None:
        print(f"{monotonic() - self._started:5.1f} s  {what}", file=sys.stderr, flush=True)

    def done(self) -> None:
        """Say that all is done."""
        self("done")
