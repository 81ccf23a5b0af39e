"""Where a publication could tell on somebody: seven cars in one cell, and an owner behind much of another."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sample_data.catalogue import components
from sample_data.fleet import SMALL_CELL_LAST_SERIAL
from sample_data.lines import FAILED

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sample_data.played import Played
    from sample_data.written import Job

LEAST_CARS = 10
WANTED_SHARE = 0.40


def privacy(played: Played, jobs: Sequence[Job]) -> dict[str, Any]:
    """Return the small cell, and the cell of component and series in which one owner has most of the orders.

    The collector's four cars are driven more and longer than the others of their series: of all cells with enough
    cars to be published, the one in which their share of the orders comes nearest to 40 % is told; None where the
    fleet is too small for any.
    """
    early = [
        career.car.vehicle_id
        for career in played.careers
        if career.car.series == "S1" and career.car.serial <= SMALL_CELL_LAST_SERIAL
    ]
    cells = [cell for code in components() if (cell := _cell(jobs, code)) and cell["cars"] >= LEAST_CARS]
    return {
        "small_cell": {"body": "coupe", "series": "S1", "serial_to": SMALL_CELL_LAST_SERIAL, "vehicles": early},
        "dominant_owner": min(cells, key=lambda cell: abs(cell["share"] - WANTED_SHARE), default=None),
    }


def _cell(jobs: Sequence[Job], code: str) -> dict[str, Any] | None:
    cars = [
        job.order.car
        for job in jobs
        if job.order.car.series == "S1" and any(line.code == code and line.kind in FAILED for line in job.order.lines)
    ]
    if not cars:
        return None
    theirs = [car for car in cars if car.collector]
    return {
        "component": components()[code].name,
        "series": "S1",
        "owner_key": theirs[0].owner_key if theirs else "",
        "owner_cars": len({car.number for car in theirs}),
        "cars": len({car.number for car in cars}),
        "orders": len(cars),
        "owner_orders": len(theirs),
        "share": round(len(theirs) / len(cars), 4),
    }
