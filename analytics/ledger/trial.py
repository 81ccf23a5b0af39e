"""Take a feed into a copy of the ledger that is thrown away: what a load would do, without writing anything."""

from __future__ import annotations

import shutil
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from analytics.errors import LedgerError
from analytics.ledger.connect import ledger_path, open_ledger
from analytics.ledger.feeds import feed_name
from analytics.ledger.journal import journal_path
from analytics.ledger.private_key import hide_cars, key_path
from analytics.ledger.taking import Delivery, kept_as, take

if TYPE_CHECKING:
    from datetime import date

    from analytics.ledger.report import LoadReport
    from analytics.records import MappedFeed


def trial(
    data_dir: Path, mapped: MappedFeed, *, loaded_on: date, mapping_text: str = "", complete: bool = False
) -> LoadReport:
    """Return what `load` would report; data folder, ledger, key and kept feeds stay as they are.

    Parameters
    ----------
    data_dir
        Data folder, with or without a ledger.
    mapped, loaded_on, mapping_text, complete
        As for `load`.

    Raises
    ------
    LedgerError
        If another process holds the ledger, it is damaged, or there is no room to copy it.

    Notes
    -----
    Where cars are hidden for the first time there is no key yet: they are compared as they are read.
    """
    if key_path(data_dir).exists():
        mapped = hide_cars(data_dir, mapped)
    with TemporaryDirectory(prefix="wearledger-") as folder:
        copy = Path(folder)
        if ledger_path(data_dir).exists() or journal_path(data_dir).exists():
            _copy(data_dir, copy)
        with open_ledger(copy, write=True) as connection:
            delivery = Delivery(mapped, kept_as(feed_name(mapped, mapping_text)), mapping_text, loaded_on, complete)
            report, _ = take(connection, delivery, lambda _: None)
    return report


def _copy(data_dir: Path, copy: Path) -> None:
    """Copy the ledger while it is open for reading, so that nobody writes to it meanwhile."""
    path = ledger_path(data_dir)
    with open_ledger(data_dir, write=False):
        try:
            for each in (path, path.with_name(f"{path.name}.wal")):
                if each.exists():
                    shutil.copyfile(each, copy / each.name)
        except OSError as error:
            raise LedgerError(
                f"the ledger could not be copied for a trial ({error.strerror})",
                where=str(copy),
                next_step="make room on that disk, or set TMPDIR to a folder on another one",
            ) from None
