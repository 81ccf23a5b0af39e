"""Cars by row, their visits, and the unit at every position on any day, with the law it follows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.scales import DAYS_PER_YEAR
from analytics.stock.like_units import EQUILIBRIUM, KNOWN, UNKNOWN, Units
from analytics.stock.presence import Seen, seen_until

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.stock.history import StockRecords
    from analytics.stock.laws import StockLaws

    Floats = NDArray[np.float64]
    Counts = NDArray[np.int64]

PLACE = ["vehicle_id", "component", "position"]
WHOLE = pl.Int64


@dataclass(frozen=True, slots=True)
class CareRecords:
    """What the installed base is made from; all up to the as-of day.

    Attributes
    ----------
    units
        `vehicle_id`, `series`, `component`, `position`, `unit_no`, `zero_on`, `age_known`, `is_used`, `vehicle_age`,
        `variant`; every unit a position ever held, sorted by position and unit.
    faults
        `vehicle_id`, `series`, `component`, `position`, `visit_day`, `reads_as`, `why_unused`.
    spells
        Snapshot table ``spell`` with `family` and `fitted_variant`.
    groupings
        `component`, `grouping`, `level`, `scale`, `default_grouping` (rule 33).
    scales
        Snapshot table ``scale_choice``.
    facts
        `component`, `family`, `safety_critical`.
    """

    units: pl.DataFrame
    faults: pl.DataFrame
    spells: pl.DataFrame
    groupings: pl.DataFrame
    scales: pl.DataFrame
    facts: pl.DataFrame


class Fleet:
    """Cars by row, their visits, and the units in place on any day."""

    def __init__(self, records: StockRecords, care: CareRecords, laws: StockLaws) -> None:
        self.laws = laws
        self.cars = records.vehicles.sort("vehicle_id").with_row_index("car").with_columns(pl.col("car").cast(pl.Int64))
        visits = records.visits.join(self.cars.select("vehicle_id", "car"), on="vehicle_id").sort("car", "day")
        self._visits = visits["car"].to_numpy(), _days(visits["day"])
        self._left = _days(self.cars["left_on"])
        rows = care.units.join(_use_of(self.cars), on="vehicle_id")
        self._rows = _with_laws(rows, laws)
        self.components = {name: at for at, name in enumerate(self._rows["component"].unique().sort())}

    @property
    def first_day(self) -> float:
        """Return the day of the first visit of all."""
        return float(self._visits[1].min(initial=np.inf))

    def seen(self, day: float) -> Seen:
        """Return when every car was seen up to a day."""
        return seen_until(*self._visits, self._left, day)

    def units_on(self, day: float) -> tuple[pl.DataFrame, Units]:
        """Return the units in place on a day, of cars seen by then."""
        here = self._rows.filter((pl.col("zero_day") <= day) & (pl.col("first_day") <= day))
        here = here.unique(PLACE, keep="last", maintain_order=True)
        pace = here["pace"].to_numpy()
        age = (day - here["zero_day"].to_numpy()) * pace
        units = Units(
            here["car"].to_numpy(),
            here["law"].to_numpy(),
            here["kind"].to_numpy(),
            age,
            here["joined"].to_numpy(),
            pace,
        )
        return here.select("series", "component", "position"), units

    def numbers(self, component: pl.Series) -> Counts:
        """Return the number of each component."""
        return np.array([self.components[name] for name in component], dtype=np.int64)


def _use_of(cars: pl.DataFrame) -> pl.DataFrame:
    """Return the km a day of each car: its own, else the mean of its series, else of all; null without any."""
    own = pl.col("own_km_per_year")
    return cars.select(
        "vehicle_id",
        "car",
        "trusted",
        first_day=pl.col("first_visit_day").cast(pl.Int32).cast(WHOLE),
        km_a_day=pl.coalesce(own, own.mean().over("series"), own.mean()) / DAYS_PER_YEAR,
    )


def _with_laws(rows: pl.DataFrame, laws: StockLaws) -> pl.DataFrame:
    """Return the units that have a law, with what of it depends on no day."""
    by_km = pl.col("component").is_in(list(laws.by_distance)) & pl.col("km_a_day").is_not_null()
    rows = rows.with_columns(scale=pl.when(by_km).then(pl.lit("distance")).otherwise(pl.lit("age")))
    for level, law in ((pl.col("variant"), "of_variant"), (pl.lit("all"), "of_all")):
        key = laws.key.select("component", "scale", level=pl.col("level"), **{law: pl.col("law")})
        rows = rows.with_columns(level=level).join(
            key, on=["component", "scale", "level"], how="left", maintain_order="left"
        )
    on_km = pl.col("scale") == "distance"
    told = pl.col("vehicle_age").is_not_null() & ~pl.col("is_used") & (~on_km | pl.col("trusted"))
    return (
        rows.with_columns(
            law=pl.coalesce("of_variant", "of_all"),
            pace=pl.when(on_km).then("km_a_day").otherwise(1.0),
            zero_day=pl.col("zero_on").cast(pl.Int32).cast(WHOLE),
            kind=pl.when("age_known").then(KNOWN).when(told).then(UNKNOWN).otherwise(EQUILIBRIUM).cast(pl.Int64),
        )
        .with_columns(
            joined=pl.when(pl.col("kind") == KNOWN)
            .then(0.0)
            .when(pl.col("kind") == UNKNOWN)
            .then(pl.col("vehicle_age").clip(0) * pl.col("pace"))
            .otherwise(float("inf"))
        )
        .filter(pl.col("law").is_not_null() & pl.col("first_day").is_not_null())
    )


def _days(days: pl.Series) -> Floats:
    """Return days since 1970-01-01, infinite where there is none."""
    return np.asarray(days.cast(pl.Int32).cast(pl.Float64).fill_null(float("inf")).to_numpy(), dtype=np.float64)
