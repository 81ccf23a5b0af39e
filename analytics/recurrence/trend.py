"""Does it get better or worse: a Laplace test over many groups at once that takes whole cars, and the yearly change."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from scipy.special import ndtri

from analytics.estimators.result_frame import shown
from analytics.estimators.searching import last_positive, reach
from analytics.estimators.sign_flips import sign_flip_p_value
from analytics.recurrence.excess import USUALLY
from analytics.scales import DAYS_PER_YEAR

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.parameters import Parameters

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

STEPS = 30
"""Halvings of the bracket of a yearly change."""

STEEPEST = 400.0
"""No rate is let grow by more than its exponential over a window, so that no number overflows."""


@dataclass(frozen=True, slots=True)
class Seen:
    """Failures within the cars' windows, a row each.

    Attributes
    ----------
    at, length
        Days since the window began, and its length, ``(n,)``.
    car, group
        Number of the car within its group, unlike in unlike groups, and of the group, ``(n,)``.
    group_of
        Group of each car, ``(cars,)``.
    groups
        Number of groups.
    """

    at: Floats
    length: Floats
    car: Ints
    group: Ints
    group_of: Ints
    groups: int

    def late(self, per_day: Floats) -> Floats:
        """Return, per car, days by which its failures come late if rates grow by these logs a day, ``(cars,)``."""
        slope = np.clip(per_day[self.group] * self.length, -STEEPEST, STEEPEST)
        part = self.at / self.length
        even = np.abs(slope) < 1e-9
        safe = np.where(even, 1.0, slope)
        passed = np.where(even, part, np.expm1(safe * part) / np.expm1(safe))
        days = np.bincount(self.car, weights=self.length * (passed - 0.5), minlength=self.group_of.size)
        return np.asarray(days, dtype=np.float64)

    def added(self, per_car: Floats) -> Floats:
        """Add up what the cars of each group have, ``(groups,)``."""
        return np.asarray(np.bincount(self.group_of, weights=per_car, minlength=self.groups), dtype=np.float64)


def trends(faults: pl.DataFrame, watch: pl.DataFrame, key: list[str], parameters: Parameters) -> pl.DataFrame:
    r"""Return of each group whether failures come more or less often as time goes on, and by how much a year.

    Parameters
    ----------
    faults
        Key columns, `vehicle_id`, `visit_day`.
    watch
        Key columns, `vehicle_id`, `start_on`, `end_on`; a car's windows of several positions count once.
    key
        Grouping columns.
    parameters
        `joining_days`, `follow_up_days`, `confidence`, `own_failures`, `difference_p`.

    Returns
    -------
    polars.DataFrame
        Key columns, `trend_failures`, `trend_cars` (those with such a failure), `trend_z` (positive = failures crowd
        late), `trend_p_value` (two-sided), `yearly_change` (rate of a year over that of the year before), its `_lower`
        and `_upper`, `yearly_spread` (standard deviation of its log); only groups with a failure, and only counts where
        failures or cars are too few for any trend to be told.

    Notes
    -----
    Given the number of failures in a car's window, their days lie evenly in it under no trend. Of each car
    :math:`U_c = \sum_i (t_i - w_c / 2)` is taken whole, so that repairs that do not hold, parts that wear evenly, and
    cars that fail often are no trend: :math:`z = \sum U_c / \sqrt{\sum U_c^2}`, and its chance is that of the signs of
    the cars drawn anew. If the rate grows as :math:`e^{\beta t}`, the days
    :math:`w (e^{\beta t} - 1) / (e^{\beta w} - 1)` lie evenly; the limits are the :math:`\beta` that the same test
    does not refuse, so that they leave out no change exactly where the p-value is below 1 less the confidence.

    Windows are cut at both ends by the days in which rules 21 and 22 let no failure count: what is found in the first
    days existed before, and a visit soon after a repair ends no window. At the last visit itself, faults found at
    inspection pile up.

    References
    ----------
    .. [1] Lawless, Cigsar and Cook (2012), Technometrics 54(2), 147-158: testing for monotone trend in recurrent event
       processes, with a variance from the units; from memory.
    .. [2] Cox and Lewis (1966), The Statistical Analysis of Series of Events, section 3.3; from memory.
    """
    inside = _inside(faults, watch, key, parameters)
    groups = inside.group_by(key).agg(
        trend_failures=pl.len().cast(pl.Int64), trend_cars=pl.col("vehicle_id").n_unique().cast(pl.Int64)
    )
    enough = (pl.col("trend_failures") >= parameters.own_failures) & (
        0.5 ** (pl.col("trend_cars").cast(pl.Float64) - 1) < parameters.difference_p
    )
    told = groups.filter(enough).sort(key).with_row_index("group")
    return groups.join(_told(inside, told, key, parameters), on=key, how="left")


def detectable_change(spread: pl.Series, cars: pl.Series, p: float) -> pl.Series:
    """Return the yearly change, above 1, that would usually be noticed; null where no change would be.

    Parameters
    ----------
    spread
        As `yearly_spread` of `trends`.
    cars
        Cars with a failure.
    p
        P-value below which a change is noticed.
    """
    needed = float(ndtri(1 - p / 2) + ndtri(USUALLY))
    possible = 0.5 ** (cars.cast(pl.Float64).to_numpy() - 1) < p
    change = np.exp(np.minimum(needed * spread.to_numpy(), STEEPEST))
    return pl.Series(np.where(possible, change, np.nan)).fill_nan(None)


def _inside(faults: pl.DataFrame, watch: pl.DataFrame, key: list[str], parameters: Parameters) -> pl.DataFrame:
    """Return the failures within the windows: `at`, `length`."""
    windows = (
        watch.group_by(*key, "vehicle_id")
        .agg(pl.col("start_on").min(), pl.col("end_on").max())
        .with_columns(
            begin=pl.col("start_on").dt.offset_by(f"{parameters.joining_days}d"),
            finish=pl.col("end_on").dt.offset_by(f"-{parameters.follow_up_days}d"),
        )
        .with_columns(length=(pl.col("finish") - pl.col("begin")).dt.total_days().cast(pl.Float64))
    )
    at = (pl.col("visit_day") - pl.col("begin")).dt.total_days() - 0.5
    return (
        faults.join(windows, on=[*key, "vehicle_id"], how="inner")
        .with_columns(at=at)
        .filter(pl.col("at").is_between(0, pl.col("length")))
        .select(*key, "vehicle_id", "at", "length")
    )


def _told(inside: pl.DataFrame, told: pl.DataFrame, key: list[str], parameters: Parameters) -> pl.DataFrame:
    """Return test and yearly change of the groups told of."""
    rows = inside.join(told.select(*key, "group"), on=key, how="inner").with_columns(
        car=pl.struct("group", "vehicle_id").rank("dense").cast(pl.Int64) - 1
    )
    # sums in one order, whatever the order of the rows (rule 7)
    rows = rows.sort("car", "at")
    cars = rows.unique("car", keep="first", maintain_order=True)["group"].cast(pl.Int64).to_numpy()
    at, length = rows["at"].to_numpy(), rows["length"].to_numpy()
    seen = Seen(at, length, rows["car"].to_numpy(), rows["group"].cast(pl.Int64).to_numpy(), cars, told.height)
    late = seen.late(np.zeros(seen.groups))
    off, spread = seen.added(late), np.sqrt(seen.added(late**2))
    moved = np.bincount(seen.group, weights=length**2, minlength=seen.groups) / 12
    change, lower, upper = _changes(seen, 1 - parameters.confidence)
    # about the change found, which is no difference between cars
    unlike = np.sqrt(seen.added(seen.late(change) ** 2))
    yearly = {"yearly_change": change, "yearly_change_lower": lower, "yearly_change_upper": upper}
    return told.select(key).with_columns(
        trend_z=shown(np.divide(off, spread, out=np.zeros(seen.groups), where=spread > 0)),
        trend_p_value=shown(sign_flip_p_value(late, cars, seen.groups)),
        yearly_spread=shown(unlike / moved * DAYS_PER_YEAR),
        **{name: shown(np.exp(np.clip(beta * DAYS_PER_YEAR, -STEEPEST, STEEPEST))) for name, beta in yearly.items()},
    )


def _changes(seen: Seen, p: float) -> tuple[Floats, Floats, Floats]:
    """Return the log growth a day at which failures lie evenly, and those beyond which the test refuses it."""
    # in units in which a group's longest window has length 1
    unit = np.zeros(seen.groups)
    np.maximum.at(unit, seen.group, seen.length)
    unit = np.maximum(unit, 1.0)

    def off(growth: Floats) -> Floats:
        return seen.added(seen.late(growth / unit))

    def kept(growth: Floats) -> Floats:
        return sign_flip_p_value(seen.late(growth / unit), seen.group_of, seen.groups) - p

    start = np.zeros(seen.groups)
    sides = (np.where(off(start) > 0, 1.0, -1.0), start)
    towards = reach(lambda g: sides[0] * off(sides[0] * g), start, 1, STEEPEST)
    middle = last_positive(lambda g: sides[0] * off(sides[0] * g), start, towards, STEPS) * sides[0]
    ends = [last_positive(kept, middle, reach(kept, middle, direction, STEEPEST), STEPS) for direction in (-1, 1)]
    return middle / unit, ends[0] / unit, ends[1] / unit
