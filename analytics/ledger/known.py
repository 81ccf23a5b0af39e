"""What the ledger tells while a feed is read: when cars were built, and which words are part numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.ledger.connect import ledger_path, open_ledger
from analytics.ledger.private_key import known_as
from analytics.ledger.queries import answer
from analytics.records.known import Known

if TYPE_CHECKING:
    from pathlib import Path


def known_before(data_dir: Path) -> Known:
    """Return what the ledger of a data folder knows; it is opened only when it is asked.

    Parameters
    ----------
    data_dir
        Data folder, with or without a ledger.

    Raises
    ------
    LedgerError
        When asked, if another process holds the ledger or it is damaged.
    """
    if not ledger_path(data_dir).exists():
        return Known()

    def years_built(vehicle_ids: pl.Series) -> pl.DataFrame:
        # a car that is hidden here is known by the keyed hash of the id that the feed writes
        names = [(each, name) for each in vehicle_ids for name in known_as(data_dir, each)]
        asked = pl.DataFrame(names, schema={"plain": pl.String, "vehicle_id": pl.String}, orient="row")
        with open_ledger(data_dir, write=False) as connection:
            cars = answer(connection, "known_car")
        return asked.join(cars, on="vehicle_id").select(vehicle_id="plain", built="built").unique("vehicle_id")

    def part_numbers() -> frozenset[str]:
        with open_ledger(data_dir, write=False) as connection:
            return frozenset(answer(connection, "known_part")["part_no"])

    return Known(years_built, part_numbers)
