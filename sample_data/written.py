"""The shop's own job numbers, and the rows of ``repairs`` as they are typed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from analytics.records.feed import REPAIRS
from sample_data.catalogue import components

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sample_data.lines import Line, Order
    from sample_data.lives import Travel
    from sample_data.roads import Instrument

Row = dict[str, str]


@dataclass(slots=True)
class Job:
    """One order with its number: `running` starts again at 1 each January, `record_id` has the year in it.

    `rows` are the lines as they are written, in the order of `order.lines`.
    """

    order: Order
    running: int
    record_id: str
    rows: list[Row]

    def pairs(self) -> list[tuple[Line, Row]]:
        """Return every line beside its row."""
        return list(zip(self.order.lines, self.rows, strict=True))


def iso(day: int) -> str:
    """Return a proleptic ordinal as ISO 8601."""
    return date.fromordinal(day).isoformat()


def number(orders: Sequence[Order]) -> list[Job]:
    """Give the orders their numbers: by day of opening, from 1 again each January, with the year before it."""
    jobs: list[Job] = []
    year, running = 0, 0
    for order in sorted(orders, key=lambda order: (order.opened, order.car.number)):
        opened = date.fromordinal(order.opened).year
        running = running + 1 if opened == year else 1
        year = opened
        jobs.append(Job(order, running, f"{year}-{running:04d}", []))
    return jobs


def write_rows(job: Job, roads: Mapping[int, tuple[Travel, Instrument]]) -> None:
    """Write the lines of an order as rows of the native table."""
    order = job.order
    travel, instrument = roads[order.car.number]
    figure, unit = instrument.reading(travel, order.opened)
    head = {
        "record_id": job.record_id,
        "vehicle_id": order.car.vehicle_id,
        "opened_on": iso(order.opened),
        "closed_on": iso(order.closed),
        "odometer": str(figure),
        "odometer_unit": unit,
    }
    job.rows = [_row(head, number, line) for number, line in enumerate(order.lines, start=1)]


def _row(head: Row, line_no: int, line: Line) -> Row:
    row = dict.fromkeys(REPAIRS.names, "")
    row |= head
    row["line_no"] = str(line_no)
    for name in REPAIRS.names:
        value = getattr(line, name, None)
        if value is not None:
            row[name] = str(value)
    row["component"] = components()[line.code].name if line.code else ""
    row["currency"] = "EUR" if line.cost else ""
    row["labour_minutes"] = str(line.labour_minutes) if line.labour_minutes else ""
    row["cost"] = str(line.cost) if line.cost else ""
    return row
