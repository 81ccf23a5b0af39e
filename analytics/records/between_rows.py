"""Say what single rows do not show: cars that nobody declares, and rows that contradict each other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.records.feed import FEED

if TYPE_CHECKING:
    from analytics.records.judge import Judged

SHOWN = 5
"""Cars told by name."""


def between_rows(judged: dict[str, Judged]) -> list[str]:
    """Return lines on rows that loading may still send to quarantine although each is good by itself.

    Parameters
    ----------
    judged
        Judgement of each table of one feed, by name.

    Notes
    -----
    What the ledger holds is not known here: it may know the cars, and it may hold other rows under the same keys.
    """
    return [line for name, found in judged.items() for line in (*_unknown_cars(name, judged), *_one_key(name, found))]


def _unknown_cars(name: str, judged: dict[str, Judged]) -> list[str]:
    if name == "vehicles" or "vehicle_id" not in FEED[name].names:
        return []
    declared = judged["vehicles"].accepted["vehicle_id"].to_list() if "vehicles" in judged else []
    lines = judged[name].accepted.filter(~pl.col("vehicle_id").is_in(declared))
    cars = lines["vehicle_id"].drop_nulls().unique(maintain_order=True)
    if cars.is_empty():
        return []
    shown = ", ".join(cars.head(SHOWN)) + (", ..." if len(cars) > SHOWN else "")
    return [
        f"{name}: {lines['vehicle_id'].count()} line(s) name {len(cars)} car(s) not in this feed's vehicles ({shown}); "
        "they are loaded only if the ledger knows the car, else they go to quarantine"
    ]


def _one_key(name: str, found: Judged) -> list[str]:
    table = FEED[name]
    if set(table.key) == set(table.names):
        return []
    first = found.accepted.unique(table.key, keep="first", maintain_order=True).select(table.names)
    others = found.accepted.join(first, on=table.names, how="anti", nulls_equal=True, maintain_order="left")
    if others.is_empty():
        return []
    file, row_no = others.select("file", "row_no").row(0)
    return [
        f"{name}: {others.height} line(s) have the same {', '.join(table.key)} as an earlier one and say something "
        f"else (first in {file}, row {row_no}); loading sends them to quarantine"
    ]
