"""The words of the command ``wearledger``, what each command does with them, and what a refusal says."""

from __future__ import annotations

import argparse
import os
from datetime import date
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any

from platformdirs import user_data_path

from analytics import commands, commands_mending, commands_shelf
from analytics.errors import OutputError, WearLedgerError
from analytics.ledger import KINDS
from analytics.ledger.turn import name_command
from analytics.part_asked import built_in
from analytics.paths import named, not_usable
from analytics.snapshot import TABLES
from analytics.telling import with_data
from analytics.wrong_usage import Parser

if TYPE_CHECKING:
    from collections.abc import Callable

HIGHEST_PORT = 65535
MOST_ORIGINS = 100
ELSEWHERE = {
    **dict.fromkeys(("quarantine", "undo", "withdraw", "rebuild", "same"), commands_mending),
    **dict.fromkeys(("backtest", "restock"), commands_shelf),
}
"""Modules of the commands that are not in `commands`."""

EPILOG = "Ledger and snapshots live where --data DIR or WEARLEDGER_DATA says, else in your user's data folder."


def run(chosen: argparse.Namespace) -> int:
    """Run one command and return its exit code: 0 done, 1 refused.

    Parameters
    ----------
    chosen
        As from the parser.
    """
    name_command(f"wearledger {chosen.command}")
    return int(chosen.run(_folder(data_folder(chosen)), chosen))


def refusal(error: BaseException, chosen: argparse.Namespace) -> str:
    """Return what is told of an error; empty = it is no refusal but a fault of the program.

    Parameters
    ----------
    error
        What ended the command.
    chosen
        As from the parser.
    """
    if isinstance(error, WearLedgerError):
        return f"refused: {with_data(str(error), chosen.data)}"
    if isinstance(error, OSError):
        return f"refused: {not_usable(error, data_folder(chosen))}"
    return ""


def data_folder(chosen: argparse.Namespace) -> Path:
    """Return the data folder that was stated, or the one that is meant where none was."""
    return chosen.data or _default_data(demo=chosen.command == "demo")


def _folder(data_dir: Path) -> Path:
    """Return the data folder, refused where it is a file."""
    if data_dir.exists() and not data_dir.is_dir():
        raise OutputError(f"{data_dir} is a file", where="--data", next_step="name a folder for ledger and snapshots")
    return data_dir


def _default_data(*, demo: bool) -> Path:
    """Return the data folder that nothing else names; the demo keeps out of the user's own ledger."""
    stated = os.environ.get("WEARLEDGER_DATA", "").strip()
    if stated:
        return Path(stated)
    return user_data_path("wearledger-demo" if demo else "wearledger", appauthor=False)


def build_parser() -> Parser:
    """Return the parser of all commands."""
    common = Parser(add_help=False)
    where: dict[str, Any] = {"type": named, "metavar": "DIR", "help": "where ledger and snapshots live"}
    common.add_argument("--data", default=argparse.SUPPRESS, **where)
    parser = Parser(prog="wearledger", description="Closed repair records in, honest answers out.", epilog=EPILOG)
    parser.add_argument("--data", default=None, **where)
    parser.add_argument("--version", action="version", version=f"wearledger {version('wearledger')}")
    sub = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")

    def command(name: str, says: str) -> argparse.ArgumentParser:
        made: argparse.ArgumentParser = sub.add_parser(
            name, help=says, description=says, parents=[common], epilog=EPILOG
        )
        made.set_defaults(run=getattr(ELSEWHERE.get(name, commands), name))
        return made

    _writing_commands(command)
    _reading_commands(command)
    return parser


def _writing_commands(command: Callable[[str, str], argparse.ArgumentParser]) -> None:
    """Add the commands that change the ledger or publish a snapshot."""
    demo = command("demo", "build the invented demo fleet, analyse it and open the dashboard")
    demo.add_argument("--no-dashboard", action="store_true", help="stop after the analysis")
    template = command("template", "write a workbook to type cars and jobs into")
    template.add_argument("--to", type=named, metavar="FILE.xlsx", required=True, help="workbook to write")
    load = command("load", "load closed records from a folder or file, or with - from standard input")
    load.add_argument("feed", type=named, metavar="FOLDER|FILE", help="where the records are; - = standard input")
    load.add_argument("--mapping", type=named, metavar="FILE", help="TOML file that says what their columns mean")
    load.add_argument("--dry-run", action="store_true", help="print what would happen; propose a mapping; load nothing")
    load.add_argument("--complete", action="store_true", help="the feed is complete: list lines it no longer has")
    quarantine = command("quarantine", "list rows that wait to be mended")
    quarantine.add_argument("--to", type=named, metavar="FILE.xlsx", help="write them to a workbook to mend there")
    quarantine.add_argument("--set-aside", action="store_true", help="list the values that lines were kept without")
    undo = command("undo", "undo a load, as if it had never been made")
    undo.add_argument("load_id", type=_load, metavar="LOAD", help="its number, as `load` printed it")
    withdraw = command("withdraw", "withdraw an order or one of its lines, with a reason")
    withdraw.add_argument("record", metavar="RECORD[/LINE]", help="number of the order, or of one line: 4711/2")
    withdraw.add_argument("--reason", required=True, metavar="TEXT", help="why it does not count")
    same = command("same", "say that two names mean one thing, list what was said, or propose misspellings")
    same.add_argument("names", nargs="*", metavar="KIND OLD NEW", help=f"KIND is one of {', '.join(KINDS)}")
    same.add_argument("--undo", action="store_true", help="take back that KIND OLD is read as another")
    same.add_argument("--propose", action="store_true", help="list names that are probably one, misspelt")
    same.set_defaults(refuse=same.error)
    command("rebuild", "build the ledger again from the kept feeds")
    restore = command("restore", "put a backup into an empty data folder")
    restore.add_argument("archive", type=named, metavar="FILE", help="archive that `backup` wrote")
    forget = command("forget", "remove a car for good, and every snapshot that held it")
    forget.add_argument("vehicle", metavar="VEHICLE", help="the car's vehicle_id")
    analyse = command("analyse", "compute everything and publish a snapshot")
    analyse.add_argument("--as-of", type=_day, metavar="DATE", help="last day that counts, like 2026-06-30")


def _reading_commands(command: Callable[[str, str], argparse.ArgumentParser]) -> None:
    """Add the commands that only read."""
    show = command("show", "print a table of the newest snapshot")
    show.add_argument("table", metavar="TABLE", help="one of: " + ", ".join(sorted(TABLES)))
    show.add_argument("--component", metavar="NAME", help="only rows of this component, in any spelling")
    show.add_argument("--format", choices=("table", "csv", "json"), default="table", help="how rows are written")
    show.add_argument("--series", metavar="NAME", help="with part_for_car: of a car that no record knows, its series")
    show.add_argument("--serial", metavar="SERIAL", help="with part_for_car: its serial")
    show.add_argument("--built", type=_built, metavar="DATE", help="with part_for_car: when it was built, or its year")
    show.set_defaults(refuse=show.error)
    backtest = command("backtest", "hold the forecasts of past days against what happened")
    backtest.add_argument("--as-of", type=_day, metavar="DATE", help="last day that counts, like 2026-06-30")
    backtest.add_argument("--origins", type=_days, default=8, metavar="N", help="past days, half a year apart")
    backtest.add_argument("--to", type=named, metavar="FILE.csv", help="write every check there")
    restock = command("restock", "say what to order now, by supplier, or write it as a workbook or CSV")
    restock.add_argument("--to", type=named, metavar="FILE.xlsx|FILE.csv", help="new file to write the list to")
    history = command("history", "print one car's story")
    history.add_argument("vehicle", metavar="VEHICLE", help="the car's vehicle_id")
    history.add_argument("--to", type=named, metavar="FILE.html", help="write it as a page")
    dashboard = command("dashboard", "open the dashboard, for this computer only")
    dashboard.add_argument("--port", type=_port, metavar="N", help="port on this computer; else the first free one")
    export = command("export", "write every table of the newest snapshot as CSV and Parquet")
    export.add_argument("--to", type=named, metavar="FOLDER", required=True, help="folder to write into, made if new")
    backup = command("backup", "copy ledger, kept feeds and snapshots into one checked archive")
    backup.add_argument("--to", type=named, metavar="FILE", required=True, help="archive to write; none is replaced")
    backup.add_argument("--with-key", action="store_true", help="also copy the key that hides vehicle ids")
    command("doctor", "check the data folder and say what is wrong")


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no day; write it like 2026-06-30") from None


def _built(text: str) -> tuple[date, date]:
    try:
        return built_in(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no day; write it like 1978-05-12, 1978-05 or 1978") from None


def _load(text: str) -> int:
    if not text.isascii() or not text.isdigit():
        raise argparse.ArgumentTypeError(
            f"{text!r} is no number of a load; write the one that `load` printed, such as 3"
        )
    return int(text)


def _days(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= MOST_ORIGINS:
        raise argparse.ArgumentTypeError(f"{text!r} is no number of days; write one from 1 to {MOST_ORIGINS}")
    return int(text)


def _port(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= HIGHEST_PORT:
        raise argparse.ArgumentTypeError(f"{text!r} is no port; write a number from 1 to {HIGHEST_PORT}")
    return int(text)
