"""What each command does, and what it says about it."""

from __future__ import annotations

import shlex
import sys
from datetime import date
from typing import TYPE_CHECKING

import polars as pl

from analytics import records
from analytics.car_story import as_html, as_text, car_story
from analytics.counting import count
from analytics.errors import FeedError, OutputError, SnapshotError
from analytics.export import export_tables
from analytics.fitting import Described
from analytics.ledger import backup as back_up
from analytics.ledger import doctor as examine
from analytics.ledger import forget as forget_car
from analytics.ledger import ids_of, known_before
from analytics.ledger import load as load_feed
from analytics.ledger import restore as restore_backup
from analytics.ledger import trial as try_load
from analytics.ledger.key_check import why_not_found
from analytics.newest import newest_snapshot
from analytics.part_asked import TABLE, in_sentences, parts_for
from analytics.paths import writing
from analytics.pipeline import analyse as run_analysis
from analytics.safety import sign_in
from analytics.selection import component_meant, rows_to_show
from analytics.snapshot import open_snapshot, read_table, safety_critical
from analytics.telling import Stages, print_table, say_next, with_data
from analytics.template import SHEETS, refuse_empty, write_template

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Callable
    from pathlib import Path

    import duckdb

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
    said = Stages()
    said("inventing 14 years of repairs, about 160 cars in care at a time")
    generate(folder / "feed")
    said("loading them")
    _say_loaded(load_feed(data_dir, records.map_feed(folder / "feed"), loaded_on=_today()))
    _analyse(data_dir, None, said)
    said.done()
    print(f"data folder: {data_dir}")
    if chosen.no_dashboard:
        print(with_data("to look at it: wearledger dashboard", data_dir))
        return 0
    return _serve(data_dir, None)


def template(data_dir: Path, chosen: Namespace) -> int:  # noqa: ARG001 - every command takes the same two
    """Write a workbook to type cars and jobs into."""
    with writing(chosen.to, "template --to"):
        write_template(chosen.to)
    print(f"written to {chosen.to}: sheets {', '.join(SHEETS)}; begin below the grey examples, which are never loaded")
    say_next(f"wearledger load {shlex.quote(str(chosen.to))}", chosen)
    return 0


def load(data_dir: Path, chosen: Namespace) -> int:
    """Load a feed, or with ``--dry-run`` only say what would happen."""
    feed = records.read_standard_input(sys.stdin.buffer) if str(chosen.feed) == "-" else chosen.feed
    known = known_before(data_dir)
    if chosen.dry_run:
        beside = records.Beside(known, _trial_load(data_dir, complete=chosen.complete))
        for line in records.dry_run(feed, chosen.mapping, loaded_on=_today(), beside=beside):
            print(line)
        return 0
    mapping = records.parse_mapping(chosen.mapping) if chosen.mapping else None
    mapped = records.map_feed(feed, mapping, known)
    refuse_empty(mapped)
    text = chosen.mapping.read_text(encoding="utf-8") if chosen.mapping else ""
    report = load_feed(data_dir, mapped, loaded_on=_today(), mapping_text=text, complete=chosen.complete)
    _say_loaded(report)
    say_next(report.next_step, chosen)
    return 0


def analyse(data_dir: Path, chosen: Namespace) -> int:
    """Compute everything as of a day and publish it."""
    said = Stages()
    _analyse(data_dir, chosen.as_of, said)
    said.done()
    return 0


def show(data_dir: Path, chosen: Namespace) -> int:
    """Print a table of the newest snapshot, or which part fits a car that no record knows."""
    car = Described(chosen.series, chosen.serial, chosen.built)
    if car != Described():
        return _show_fitting(data_dir, car, chosen)
    with open_snapshot(newest_snapshot(data_dir)) as connection:
        component = component_meant(connection, data_dir, chosen.component)
        frame = rows_to_show(connection, chosen.table, component)
        _say_withheld(connection, component)
    print_table(frame, chosen.format)
    return 0


def _show_fitting(data_dir: Path, car: Described, chosen: Namespace) -> int:
    """Print which part fits a car that no record knows."""
    if chosen.table != TABLE:
        chosen.refuse(f"--series, --serial and --built describe a car, and go with table {TABLE} alone")
    with open_snapshot(newest_snapshot(data_dir)) as connection:
        found = parts_for(connection, car, component_meant(connection, data_dir, chosen.component))
        told = in_sentences(connection, found)
    if chosen.format == "table":
        print("\n".join(told))
    else:
        print_table(found, chosen.format)
    return 0


def history(data_dir: Path, chosen: Namespace) -> int:
    """Print one car's story, or write it as a page."""
    try:
        story = car_story(newest_snapshot(data_dir), *ids_of(data_dir, chosen.vehicle))
    except SnapshotError:
        told = why_not_found(data_dir)
        if told:
            print(told, file=sys.stderr)
        raise
    if chosen.to:
        with writing(chosen.to, "history --to"):
            chosen.to.write_text(as_html(story), encoding="utf-8")
        print(f"written to {chosen.to}")
    else:
        print(as_text(story))
    return 0


def dashboard(data_dir: Path, chosen: Namespace) -> int:
    """Open the dashboard on this computer."""
    newest_snapshot(data_dir)
    return _serve(data_dir, chosen.port)


def export(data_dir: Path, chosen: Namespace) -> int:
    """Write every table of the newest snapshot for other programs."""
    snapshot = newest_snapshot(data_dir)
    with writing(chosen.to, "export --to", folder=True):
        rows = export_tables(snapshot, chosen.to)
    for name, height in rows.items():
        print(f"{name}: {count(height, 'row')}")
    with open_snapshot(snapshot) as connection:
        _say_withheld(connection, None)
    print(f"{len(rows)} tables of {snapshot.stem} written to {chosen.to}, described in datapackage.json")
    return 0


def doctor(data_dir: Path, chosen: Namespace) -> int:
    """Check the data folder; exit code 1 if something is wrong."""
    findings = examine(data_dir)
    for finding in findings:
        print(f"{'good ' if finding.ok else 'WRONG'}  {finding.kind}: {with_data(finding.says, chosen.data)}")
    wrong = sum(not finding.ok for finding in findings)
    print("all good" if not wrong else f"{wrong} of {len(findings)} checks failed")
    return 1 if wrong else 0


def backup(data_dir: Path, chosen: Namespace) -> int:
    """Copy ledger, kept feeds and snapshots into one archive."""
    with writing(chosen.to, "backup --to"):
        made = back_up(data_dir, chosen.to, with_key=chosen.with_key)
    print(f"{count(made.files, 'file')}, {made.size / 1e6:.1f} MB, written to {chosen.to}")
    if made.key_left_out:
        print("the private key was left out; keep a copy of it elsewhere, or state --with-key", file=sys.stderr)
    return 0


def restore(data_dir: Path, chosen: Namespace) -> int:
    """Put a backup into an empty data folder."""
    print(f"{count(restore_backup(data_dir, chosen.archive), 'file')} put back into {data_dir}, each as it was written")
    say_next("wearledger doctor", chosen)
    return 0


def forget(data_dir: Path, chosen: Namespace) -> int:
    """Remove a car for good; say what was removed and what is left to do."""
    said = Stages()
    gone = forget_car(data_dir, chosen.vehicle, progress=said)
    said.done()
    for line in gone.sentences():
        print(line)
    if gone.newest:
        print(f"the newest snapshot is now {gone.newest}")
    if (data_dir / "demo").exists():
        print(f"the demo's own invented feed stays in {data_dir / 'demo'}")
    say_next("wearledger analyse", chosen)
    return 0


def _analyse(data_dir: Path, as_of: date | None, said: Stages) -> None:
    result = run_analysis(data_dir, as_of=as_of, progress=said)
    known = " (the same ledger and day as before: nothing new to write)" if result.already_known else ""
    print(f"snapshot {result.snapshot_id}, as of {result.as_of}{known}")


def _trial_load(data_dir: Path, *, complete: bool) -> Callable[[records.MappedFeed, str], LoadReport]:
    """Return what says what loading a feed would do, and writes nothing."""

    def tried(mapped: records.MappedFeed, mapping_text: str) -> LoadReport:
        return try_load(data_dir, mapped, loaded_on=_today(), mapping_text=mapping_text, complete=complete)

    return tried


def _say_loaded(report: LoadReport) -> None:
    print(report.sentence())
    for line in report.warnings():
        print(line, file=sys.stderr)
    quarantined, set_aside = report.count("quarantined"), report.count("set_aside")
    if quarantined or set_aside:
        told = f"{count(quarantined, 'row')} quarantined, {count(set_aside, 'value')} set aside"
        print(f"in all: {told}", file=sys.stderr)


def _say_withheld(connection: duckdb.DuckDBPyConnection, component: str | None) -> None:
    """Say which lives are not shown (rule 39), and of which only a word of the name or system says so."""
    names = [name for name in safety_critical(connection) if component in (None, name)]
    if not names:
        return
    print(f"no life is shown of what is critical for safety: {', '.join(names)}", file=sys.stderr)
    models = read_table(connection, "life_model")
    systems = dict(models.select("component", "system").unique("component").iter_rows())
    stated = {*models.filter(pl.col("safety_told_by") == "stated")["component"]}
    words = {name: sign_in(name, systems.get(name)) for name in names if name not in stated}
    told = ", ".join(f"{name} (“{word}”)" for name, word in words.items() if word)
    if told:
        print(
            f"of these by a word of the name or system alone: {told}; if that misleads, load a table components with "
            "safety_critical = no",
            file=sys.stderr,
        )


def _serve(data_dir: Path, port: int | None) -> int:
    try:
        from dashboards.launch import serve
    except ImportError as error:
        raise SnapshotError(
            f"the dashboard is not installed: {error}", where="wearledger", next_step="install wearledger again"
        ) from error
    try:
        serve(data_dir, port)
    except OSError as error:
        raise OutputError(
            str(error), where="dashboard --port", next_step="leave --port out: the first free port is taken"
        ) from error
    return 0


def _today() -> date:
    """Return today; the one place where a command reads the clock."""
    return date.today()  # noqa: DTZ011 - the day of loading is the user's own
