"""One round: a spoilt feed goes all the way into a ledger; nothing breaks down, every row is accounted for."""

from __future__ import annotations

import random
import shutil
from collections import Counter
from copy import deepcopy
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING

import polars as pl

from analytics.errors import WearLedgerError
from analytics.ledger import doctor, ledger_hash, load, loads, open_ledger, rebuild, undo, write_quarantine
from analytics.ledger.connect import ledger_path
from analytics.records import dry_run, judge, map_feed, parse_mapping
from analytics.records.blocks import UNREAD
from analytics.records.feed import FEED
from analytics.records.private_text import FREE_TEXT
from tests.fuzz.dirt import NASTY, SIZES, Sheet, sound_feed, spoil
from tests.fuzz.writing import UNMARKED, stated, write
from tests.records.plain_twin import BLANKS, changed_silently, is_blank

if TYPE_CHECKING:
    from pathlib import Path

    from analytics.records import MappedFeed

LOADED_ON = date(2026, 11, 24)
LOADS_OF_A_LEDGER = 12
SETTINGS = ["", 'date_order = "dmy"', 'date_order = "mdy"\ntwo_digit_years = 1930', 'decimal = ","\nthousands = "."',
            'odometer_unit = "mi"\ncurrency = "EUR"', 'vehicle_id = "keyed hash"']  # fmt: skip
BECAME = ("accepted", "unchanged", "revised", "quarantined")


@dataclass
class Count:
    """What the rounds so far came to.

    Attributes
    ----------
    rounds, feeds, rows
        Rounds run; feeds read and taken, and their rows.
    became
        Rows by what became of them in the ledger.
    mended
        Rows of the quarantine that a feed or a mended sheet ended.
    refused
        Feeds that were refused with a sentence, by its first words.
    """

    rounds: int = 0
    feeds: int = 0
    rows: int = 0
    mended: int = 0
    became: Counter[str] = field(default_factory=Counter)
    refused: Counter[str] = field(default_factory=Counter)


class Rounds:
    """Rounds that follow from a seed and a number; some share a ledger, so that they meet what others left."""

    def __init__(self, seed: int, folder: Path, sizes: tuple[int, ...] = SIZES) -> None:
        self.seed, self.folder, self.sizes = seed, folder, sizes
        self.data = folder / "data"
        self.count = Count()

    def run(self, number: int) -> None:
        """Run one round; whatever fails names the command that repeats it."""
        chance = random.Random(f"{self.seed} {number}")
        try:
            self._round(chance)
            if number % LOADS_OF_A_LEDGER == LOADS_OF_A_LEDGER - 1:
                self.close_ledger()
        except BaseException as error:
            first = number // LOADS_OF_A_LEDGER * LOADS_OF_A_LEDGER
            error.add_note(
                f"python -m tests.fuzz --seed {self.seed} --from-round {first} --rounds {number - first + 1}"
            )
            raise
        self.count.rounds += 1

    def close_ledger(self) -> None:
        """Examine the ledger, build it again, and begin another."""
        if ledger_path(self.data).exists():
            wrong = [finding.says for finding in doctor(self.data) if not finding.ok]
            assert not wrong, wrong
            with open_ledger(self.data, write=False) as connection:
                before = ledger_hash(connection)
            assert rebuild(self.data) == before
        shutil.rmtree(self.data, ignore_errors=True)

    def _round(self, chance: random.Random) -> None:
        """Load a feed; perhaps the same again, a changed version of it, or a mended sheet; perhaps undo a load."""
        sheets = sound_feed(chance, self.sizes)
        tidy = deepcopy(sheets)
        for sheet in sheets:
            spoil(chance, sheet)
        settings = chance.choice(SETTINGS)
        self._deliver(chance, sheets, settings)
        if chance.random() < 0.3:
            self._deliver(chance, tidy if chance.random() < 0.5 else _revised(chance, sheets), settings)
        if chance.random() < 0.3 and ledger_path(self.data).exists():
            self._mend(chance)
        if chance.random() < 0.1 and ledger_path(self.data).exists():
            self._undo(chance)

    def _deliver(self, chance: random.Random, sheets: list[Sheet], settings: str) -> None:
        """Write, map, judge and load a feed."""
        feed = self.folder / "feed"
        shutil.rmtree(feed, ignore_errors=True)
        feed.mkdir(parents=True)
        for sheet in sheets:
            write(chance, sheet, feed, damage=chance.choice([0, 0, 0.3]))
        unmarked = any(sheet.encoding in UNMARKED for sheet in sheets)
        blocks = stated(sheets) if chance.random() < (0.9 if unmarked else 0.25) else ""
        try:
            mapped = map_feed(feed, self._mapping(settings, blocks))
            _assert_all_read(sheets, mapped.tables)
            for name, frame in mapped.tables.items():
                _assert_told(name, frame, judge(name, frame, loaded_on=LOADED_ON, settings=mapped.settings))
            if chance.random() < 0.1:
                list(dry_run(feed, None, loaded_on=LOADED_ON))
            self._load(mapped)
            if chance.random() < 0.2:
                again = load(self.data, mapped, loaded_on=LOADED_ON)
                assert again.load_id is None, "the same feed again changed something"
        except WearLedgerError as error:
            self._refused(error)

    def _mapping(self, settings: str, blocks: str):
        if not settings and not blocks:
            return None
        path = self.folder / "mapping.toml"
        path.write_text(f'source = "shop"\n[settings]\n{settings}\n{blocks}\n', encoding="utf-8")
        return parse_mapping(path)

    def _load(self, mapped: MappedFeed) -> None:
        report = load(self.data, mapped, loaded_on=LOADED_ON)
        read = {
            (name, file): n for name, frame in mapped.tables.items() for file, n in frame["file"].value_counts().rows()
        }
        told = report.files.with_columns(told=pl.sum_horizontal(BECAME))
        assert {(table, file): n for table, file, n in told.select("table", "file", "told").rows()} == read
        assert told["told"].to_list() == told["rows_read"].to_list()
        self.count.feeds += 1
        self.count.rows += sum(read.values())
        self.count.mended += report.mended
        self.count.became.update({name: int(told[name].sum()) for name in BECAME})

    def _mend(self, chance: random.Random) -> None:
        """Load the quarantine sheet, some of it mended, some of it made worse."""
        path = self.folder / "quarantine.xlsx"
        with open_ledger(self.data, write=False) as connection:
            if not write_quarantine(connection, path):
                return
            cars = [car for (car,) in connection.sql("select vehicle_id from vehicles order by all").fetchall()]
        sheets = pl.read_excel(path, sheet_id=0, infer_schema_length=0)
        keep = chance.choice([0.1, 0.5, 1])
        book = {
            name: _mended(chance, name, sheet, cars or ["car0"]).filter(pl.int_range(pl.len()) < keep * pl.len())
            for name, sheet in sheets.items()
        }
        _write_book(path, book)
        try:
            self._load(map_feed(path))
        except WearLedgerError as error:
            self._refused(error)

    def _undo(self, chance: random.Random) -> None:
        with open_ledger(self.data, write=False) as connection:
            live = loads(connection)["load_id"].to_list()
        if live:
            undo(self.data, chance.choice(live))

    def _refused(self, error: WearLedgerError) -> None:
        _assert_plain(error)
        self.count.refused[" ".join(error.what.split()[:4])] += 1


def _revised(chance: random.Random, sheets: list[Sheet]) -> list[Sheet]:
    """Return the sheets as a later export brings them: some cells changed, some rows gone or moved."""
    for sheet in sheets:
        for row in sheet.rows:
            if chance.random() < 0.05 and row:
                row[chance.randrange(len(row))] = chance.choice([*NASTY[:4], "7", "2020-03-04", "other"])
        if chance.random() < 0.3:
            del sheet.rows[: chance.randrange(4)]
        if chance.random() < 0.3:
            chance.shuffle(sheet.rows)
    return sheets


def _mended(chance: random.Random, name: str, sheet: pl.DataFrame, cars: list[str]) -> pl.DataFrame:
    """Put a good value in the place of a bad one in most rows, a nasty one in others."""
    good = {"vehicle_id": cars[0], "action": "replaced", "reason": "failure", "line_no": "1"}
    table = FEED[name]
    rows = sheet.to_dicts()
    for row in rows:
        for column in table.columns:
            if column.name in (row["column"] or "") and chance.random() < 0.8:
                sound = {
                    "date": "2020-03-04",
                    "number": "1",
                    "whole": "1",
                    "yes_no": "yes",
                    "text": f"x{chance.random()}",
                }
                row[column.name] = good.get(column.name, sound[column.kind])
        if chance.random() < 0.1:
            row[chance.choice(table.names)] = chance.choice(NASTY)
    return pl.DataFrame(rows, schema=sheet.schema)


def _write_book(path: Path, book: dict[str, pl.DataFrame]) -> None:
    import xlsxwriter

    as_text = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with xlsxwriter.Workbook(path, as_text) as target:
        for name, sheet in book.items():
            sheet.write_excel(workbook=target, worksheet=name)


def _assert_all_read(sheets: list[Sheet], tables: dict[str, pl.DataFrame]) -> None:
    """Every row of a file that can be counted is in its table, or blank; what its cells say is as it was written."""
    for sheet in sheets:
        if sheet.whole and sheet.name in tables:
            frame = tables[sheet.name]
            filled = [row for row in sheet.rows if not is_blank(row)]
            even = [row for row in filled if len(row) == len(sheet.heading)]
            split = frame.filter(pl.col(UNREAD).is_null()) if UNREAD in frame.columns else frame
            # a row of another length is told line by line, even where it holds delimiters alone
            ragged = [row for row in sheet.rows if len(row) != len(sheet.heading)]
            more = sum(is_blank(row) + sum(cell.count("\n") for cell in row) for row in ragged)
            assert split.height == len(even), (sheet.name, split.height, len(even))
            assert len(filled) <= frame.height <= len(filled) + more, (sheet.name, frame.height, len(filled))
            if sheet.encoding in {"utf-8", "utf-8-sig", "utf-16", "utf-16-be"}:
                _assert_as_written(sheet, even, split)


def _assert_as_written(sheet: Sheet, written: list[list[str]], read: pl.DataFrame) -> None:
    """Texts come through the reader and the mapping to the letter."""
    free = FREE_TEXT.get(sheet.name, ())
    names = [c.name for c in FEED[sheet.name].columns if c.kind == "text" and c.name in read.columns]
    names = [name for name in names if name not in free and sheet.heading.count(name) == 1]
    for name in names:
        at = sheet.heading.index(name)
        cells = [row[at].replace("\r\n", "\n").strip(BLANKS) for row in written]
        texts = [(text or "").strip(BLANKS) for text in read.sort("row_no")[name]]
        wrong = [pair for pair in zip(cells, texts, strict=True) if pair[0] != pair[1]]
        assert not wrong, (sheet.name, name, wrong[:3])


def _assert_told(name: str, frame: pl.DataFrame, found) -> None:
    places = pl.concat([found.accepted.select("file", "row_no"), found.quarantined.select("file", "row_no")])
    assert sorted(places.rows()) == sorted(frame.select("file", "row_no").rows())
    assert found.quarantined["says"].null_count() == 0
    wrong = changed_silently(FEED[name], frame, found)
    assert not wrong, wrong[:3]


def _assert_plain(error: WearLedgerError) -> None:
    """A refusal is a sentence and says what to do next."""
    assert error.what.strip()
    assert error.next_step.strip()
    assert not any(word in str(error) for word in ("Traceback", "Error:", "Errno", "polars", "duckdb")), str(error)
