"""Positions of cars by number, and their names: looked up for the rows that are handed on, never carried along."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from analytics.spells.events import numbers_of

if TYPE_CHECKING:
    import duckdb

    from analytics.spells.events import Numbers


@dataclass(frozen=True, slots=True)
class Slots:
    """Positions by number: row i holds slot_no i + 1.

    Attributes
    ----------
    car
        Number of the car, as `Clock.km_of` takes it, shape ``(slots,)``.
    window
        Component of the car, 0, 1, 2 by window_no, shape ``(slots,)``.
    car_of_window
        Number of the car of each component of a car, shape ``(windows,)``.
    position
        Name of each position, shape ``(slots,)``.
    component
        Name of the component by window, shape ``(windows,)``.
    vehicle
        vehicle_id and series by number of the car.
    """

    car: Numbers
    window: Numbers
    car_of_window: Numbers
    position: pl.Series
    component: pl.Series
    vehicle: pl.DataFrame

    def names(self, rows: Numbers) -> pl.DataFrame:
        """Return vehicle_id, component, position and series of positions.

        Parameters
        ----------
        rows
            Positions, 0, 1, 2, shape ``(n,)``.
        """
        of_car = self.vehicle[self.car[rows]]
        return pl.DataFrame([of_car["vehicle_id"], self.components(rows), self.position.gather(rows), of_car["series"]])

    def components(self, rows: Numbers) -> pl.Series:
        """Return the component of each position, parameters as `names`."""
        return self.component.gather(self.window[rows])


def read_slots(connection: duckdb.DuckDBPyConnection, vehicle: pl.DataFrame) -> Slots:
    """Return the positions by number.

    Parameters
    ----------
    connection
        A connection on which the tables of the history stand.
    vehicle
        vehicle_id, series; one row per car, sorted by vehicle_id.
    """
    slot = connection.table("slot").select("slot_no", "window_no", "position").pl().sort("slot_no")
    window = connection.table("car_place").select("window_no", "car_no", "component").pl().sort("window_no")
    of_slot, car = numbers_of(slot["window_no"]) - 1, numbers_of(window["car_no"]) - 1
    names = vehicle.select("vehicle_id", "series")
    return Slots(car[of_slot], of_slot, car, slot["position"], window["component"], names)
