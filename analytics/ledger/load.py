"""Load a mapped feed: one transaction, all or nothing; the same feed again changes nothing."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING

from analytics.ledger.connect import LedgerDamagedError, open_ledger
from analytics.ledger.feeds import keep_feed
from analytics.ledger.journal import note_loads
from analytics.ledger.key_check import refuse_new_key
from analytics.ledger.private_key import MARK, hide_cars
from analytics.ledger.queries import answer
from analytics.ledger.report import only_put_back
from analytics.ledger.taking import Delivery, take

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from datetime import date
    from pathlib import Path

    import duckdb

    from analytics.ledger.report import LoadReport
    from analytics.records import MappedFeed

WRITING = threading.RLock()
"""One change at a time within this process; between processes the file's own lock holds."""


def load(
    data_dir: Path,
    mapped: MappedFeed,
    *,
    loaded_on: date,
    mapping_text: str = "",
    complete: bool = False,
    progress: Callable[[str], None] | None = None,
) -> LoadReport:
    """Take a mapped feed into the ledger.

    Parameters
    ----------
    data_dir
        Data folder; a ledger is built where there is none.
    mapped
        The feed after its mapping.
    loaded_on
        Day of loading; a job closed after it goes to quarantine (rule 3).
    mapping_text
        The mapping file, kept with the feed.
    complete
        Whether the feed holds everything its source has; lines no longer there are listed, not withdrawn (rule 4).
    progress
        Called with a sentence before each table.

    Returns
    -------
    LoadReport
        Counts, and what went to quarantine or was set aside.

    Raises
    ------
    LedgerError
        If another process holds the ledger, or the ledger is damaged; nothing was loaded then.

    Notes
    -----
    A feed that was loaded before and whose kept copy is missing or damaged is only put back there.
    The mapped rows are kept in ``feeds`` while they are judged, and lie there before the ledger has them for good.
    A process killed at any moment leaves the ledger as it was before or as it is after, and the feed whole or not
    there.
    """
    mapped = hide_cars(data_dir, mapped)
    with WRITING, _open(data_dir, mapped, mapping_text, progress) as connection:
        note_loads(data_dir, connection)
        refuse_new_key(data_dir, connection, mapped.settings.get(MARK))
        ever_loaded = {*answer(connection, "loads_after", load_id=0)["feed_hash"].to_list()}
        connection.begin()
        try:
            with ThreadPoolExecutor(max_workers=1) as pool:
                keeping = pool.submit(keep_feed, data_dir, mapped, mapping_text)
                delivery = Delivery(mapped, lambda: keeping.result().name, mapping_text, loaded_on, complete)
                report, already_known = take(connection, delivery, progress or (lambda _: None))
            # a copy that was lost is brought back for its own sake: taken anew, it could revise what came after it
            put_back = keeping.result().anew and report.feed_hash in ever_loaded
        except BaseException:
            connection.rollback()
            raise
        if already_known or put_back:
            connection.rollback()
            undone = answer(connection, "loads", feed_hash=report.feed_hash).is_empty()
            return only_put_back(report, undone=undone) if put_back else replace(report, load_id=None)
        connection.commit()
        note_loads(data_dir, connection)
    return report


@contextmanager
def _open(
    data_dir: Path, mapped: MappedFeed, mapping_text: str, progress: Callable[[str], None] | None
) -> Iterator[duckdb.DuckDBPyConnection]:
    """Open the ledger for writing; beside a damaged one mend a damaged copy of the feed, so that it can be rebuilt."""
    try:
        with open_ledger(data_dir, write=True, waiting=progress) as connection:
            yield connection
    except LedgerDamagedError:
        keep_feed(data_dir, mapped, mapping_text)
        raise
