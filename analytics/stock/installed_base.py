"""Demand of a group from its installed base: the units in the cars still in care, cars that join, sales."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from scipy import sparse
from scipy.special import betaincinv

from analytics.estimators import fails_within
from analytics.scales import DAYS_PER_YEAR
from analytics.stock.counting_law import Predictive, Repairs
from analytics.stock.demand import History, quantity_frequencies
from analytics.stock.laws import DRAWS, gamma_draws, places
from analytics.stock.like_units import cells_of, over_cells
from analytics.stock.renewals import renewals

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.stock.in_care import InCare
    from analytics.stock.like_units import Cells
    from analytics.stock.streams import Streams

    Floats = NDArray[np.float64]
    Counts = NDArray[np.int64]

FACTOR_WEIGHT = 10.0
"""Failures of prior weight on a component's factor at 1 (rule 38)."""

SLOW_DRAWS = 70
"""Laws drawn where many years are looked ahead, which takes longer."""

LATELY_DAYS = 183
"""Cars seen within this tell how likely a car that joins stays."""

LEAST = 1e-12
"""Repairs are expected at least this often, so that every division has a result."""


@dataclass(frozen=True, slots=True)
class ByStream:
    """Expected demand over a horizon in repairs, by where it comes from, and in parts over the counter."""

    failing: float
    joining: float
    planned: float
    sold: float


class BaseDemand:
    """The demand of one interchangeable group over any horizon, from its installed base.

    Parameters
    ----------
    live_no
        Number of the group; its draws are moved by no other's (rule 7).
    care
        The installed base.
    rows
        Units of `care` at places that take the group.
    taking
        Rows of the cars that take it.
    streams
        What the group's records tell beside.
    sales
        Parts asked for over the counter, and years of sales kept.

    Notes
    -----
    For each of `DRAWS` laws a unit fails with p = 1 - S(x + h) / S(x), of unknown age by the renewal law, times its
    component's factor Gamma(10 + O) / (10 + E), once more with F(h / 2); its car is present with q, the same for all
    its units. A failure takes the group's part with a drawn share, Beta(took + 1/G, did not + 1 - 1/G) where G groups
    serve the component. Joiners, planned work and sales are gamma-Poisson (rule 38).
    """

    def __init__(
        self, live_no: str, care: InCare, rows: Counts, taking: Counts, streams: Streams, sales: tuple[int, float]
    ) -> None:
        self.live_no, self._care, self.streams = live_no, care, streams
        self._units = care.units.only(rows)
        self._cells = cells_of(self._units)
        self._taking = taking
        sold, sales_years = sales
        self._beside = History(
            streams.planned, streams.planned_years + 1, streams.active_cars, streams.quantities, sold, sales_years
        )
        self._quantity = quantity_frequencies(streams.quantities)
        self.predictive = Predictive(self._quantity, self._beside)
        self._asked: Floats = np.zeros((0, DRAWS))
        self._found: tuple[Floats, Floats] = (np.zeros(0), np.zeros(0))

    @cached_property
    def present(self) -> float:
        """Return how many of the cars that take it are likely in care."""
        return float(np.minimum(self._care.q[self._taking], 1.0).sum())

    @property
    def cars(self) -> int:
        """Return how many cars that take it were ever seen and are not known to have left."""
        return int(self._care.seen.known[self._taking].sum())

    @property
    def units(self) -> int:
        """Return how many units sit at places that take it, in cars not known to have left."""
        return int(self._care.seen.known[self._units.car].sum())

    @cached_property
    def failures(self) -> int:
        """Return the failures that its life laws rest on."""
        laws = np.unique(self._cells.law)
        key = self._care.laws.key.sort("law")
        return int(key["failures"].gather(laws).sum())

    @property
    def presence_fitted(self) -> bool:
        """Return whether the records are old enough to tell which cars have left."""
        return self._care.presence.fitted

    @property
    def critical(self) -> bool:
        """Return whether it serves a safety-critical component: then no car is told from another (rule 39)."""
        return not self._care.critical.isdisjoint(self._component)

    def repairs(self, days: Floats) -> list[Repairs]:
        """Return the repairs over several horizons.

        Parameters
        ----------
        days
            Shape ``(horizons, DRAWS)``: horizon of each draw, days.
        """
        failing, excess = self._failing(days)
        joining = self._joining(days, failing)
        return [Repairs(np.maximum(failing[h] + joining[h], LEAST), excess[h], days[h]) for h in range(days.shape[0])]

    def renewed(self, steps: int, step_days: float) -> tuple[Floats, Floats]:
        """Return mean and excess of the repairs up to the end of each step, ``(steps, SLOW_DRAWS)``, cars leaving.

        Parameters
        ----------
        steps, step_days
            How many steps of so many days ahead.

        Notes
        -----
        Units are renewed whenever they fail (`renewals`), as long as their car stays; cars leave at the rate at which
        presence has fallen over the past years. Cars join as in the years that joining is counted over.
        """
        thin, cells, laws = slice(None, None, DRAWS // SLOW_DRAWS), self._cells, self._care.laws
        shape, life = laws.shape[cells.law].T[thin], laws.life[cells.law].T[thin]
        ends = np.asarray(step_days * np.arange(1, steps + 1), dtype=np.float64)
        in_place = cells.chances(shape, life, ends[:, None, None])[0]
        new = fails_within(shape, life, 0.0, ends[:, None, None] * cells.pace)
        middle = (ends - step_days / 2) / DAYS_PER_YEAR
        leaving = gamma_draws(self._care.left[0] + 0.5, self._care.left[1] + 1.0, "leaving", self.live_no)[thin]
        found = renewals(in_place, new, np.exp(-middle[:, None] * leaving)[:, :, None])
        each = self._shares[thin] * self._factors[thin] * found.mean
        pairs = (self._shares[thin] * self._factors[thin]) ** 2 * found.pairs
        once, square = cells.summed(self._q), cells.summed(self._q**2)
        mean = over_cells(each, once)
        joined = self._joined(ends / DAYS_PER_YEAR, mean, leaving, thin)
        return mean + joined, over_cells(pairs, once) - over_cells(each**2, square)

    def _joined(self, years: Floats, failing: Floats, leaving: Floats, thin: slice) -> Floats:
        """Return the repairs of cars that join meanwhile, on joining and then as those present."""
        cars, brought = (drawn[thin] for drawn in self._joiners)
        per_car = failing[0] / max(float(self._care.q[self._taking].sum()), 0.1) / years[0]
        stayed = (years[:, None] - -np.expm1(-leaving * years[:, None]) / leaving) / leaving
        return np.asarray(cars * (years[:, None] * brought + per_car * self._stays * stayed), dtype=np.float64)

    def by_stream(self, days: Floats) -> ByStream:
        """Return the expected demand over one horizon, shape ``(1, DRAWS)``, by stream."""
        failing = self._failing(days)[0]
        years = float(days.mean()) / DAYS_PER_YEAR
        return ByStream(
            float(failing.mean()),
            float(self._joining(days, failing).mean()),
            float(self._beside.repairs_in(years)),
            float(self._beside.sales_in(years)),
        )

    def by_car(self, days: Floats) -> Floats:
        """Return the repairs expected of each car, ``(cars,)``, over one horizon, shape ``(1, DRAWS)``."""
        first, again = self._chances(days)
        of_cell = (self._shares * first[0] * (1 + again[0])).mean(axis=0)
        of_unit = of_cell[self._cells.of_unit] * self._q
        return np.bincount(self._units.car, weights=of_unit, minlength=self._care.q.size).astype(np.float64)

    def names_of(self, cars: Counts) -> list[str]:
        """Return the names of cars by row."""
        return [str(name) for name in self._care.cars["vehicle_id"].gather(cars)]

    def units_by_car(self) -> pl.DataFrame:
        """Return `car` (its row), `vehicle_id`, `units` and `presence` of the cars not known to have left."""
        units = np.bincount(self._units.car, minlength=self._care.q.size)
        car = np.flatnonzero(self._care.seen.known & (units > 0))
        presence = np.minimum(self._care.q[car], 1.0)
        names = self._care.cars["vehicle_id"].gather(car)
        return pl.DataFrame({"car": car, "vehicle_id": names, "units": units[car], "presence": presence})

    @cached_property
    def _q(self) -> Floats:
        q: Floats = self._care.q[self._units.car]
        return q

    @cached_property
    def _component(self) -> list[str]:
        """Return the component of each cell."""
        names = self._care.laws.key.sort("law")["component"]
        found: list[str] = names.gather(self._cells.law).to_list()
        return found

    @cached_property
    def _shares(self) -> Floats:
        """Return the drawn share of failures that take the group's part, ``(DRAWS, cells)``."""
        return self._per_component(self._share)

    @cached_property
    def _factors(self) -> Floats:
        return self._per_component(self._factor)

    def _per_component(self, drawn: object) -> Floats:
        assert callable(drawn)
        column = {name: drawn(name) for name in dict.fromkeys(self._component)}
        return np.stack([column[name] for name in self._component], axis=1)

    def _share(self, component: str) -> Floats:
        took, failed, prior = self.streams.answered.get(component, (0, 0, 0.0))
        yes, no = min(took, failed) + prior, max(failed - took, 0) + 1 - prior
        if took >= failed and prior >= 1 - LEAST:
            return np.ones(DRAWS)
        if yes <= 0:
            return np.zeros(DRAWS)
        return np.asarray(betaincinv(yes, no, places("share", self.live_no, component)))

    def _factor(self, component: str) -> Floats:
        seen, expected = self._care.factor.get(component, (0.0, 0.0))
        return gamma_draws(FACTOR_WEIGHT + seen, FACTOR_WEIGHT + expected, "factor", component)

    def _chances(self, days: Floats) -> tuple[Floats, Floats]:
        """Return the chances of `Cells.chances`, the component's factor in them; those asked for last are kept."""
        for row in range(self._asked.shape[0]) if days.shape[0] == 1 else ():
            if np.array_equal(self._asked[row], days[0]):
                return self._found[0][row : row + 1], self._found[1][row : row + 1]
        self._asked, self._found = days, self._reckoned(days)
        return self._found

    def _reckoned(self, days: Floats) -> tuple[Floats, Floats]:
        laws, law = self._care.laws, self._cells.law
        first, again = self._cells.chances(laws.shape[law].T, laws.life[law].T, days[:, :, None])
        return np.minimum(first * self._factors, 1.0), again

    def _failing(self, days: Floats) -> tuple[Floats, Floats]:
        """Return mean and excess (variance less mean) of the failures that take the part, ``(horizons, DRAWS)``."""
        cells, q = self._cells, self._q
        first, again = self._chances(days)
        each = self._shares * first * (1 + again)
        twice = 2 * self._shares**2 * first * again
        once, square = cells.summed(q), cells.summed(q**2)
        excess = over_cells(twice, once) - over_cells(each**2, square)
        return over_cells(each, once), excess + _of_shared_cars(each, cells, self._units.car, np.minimum(q, 1.0))

    def _joining(self, days: Floats, failing: Floats) -> Floats:
        """Return the repairs of cars that join: at joining, and for half of the horizon as the cars present."""
        cars, brought = self._joiners
        weight = max(float(self._care.q[self._taking].sum()), 0.1)
        return cars * days / DAYS_PER_YEAR * (brought + failing / weight / 2 * self._stays)

    @cached_property
    def _joiners(self) -> tuple[Floats, Floats]:
        """Return the drawn cars that join in a year, and the repairs that each brings."""
        told = self.streams
        cars = gamma_draws(told.joiners + 0.5, told.joining_years, "joiners", self.live_no)
        return cars, gamma_draws(told.joining_repairs + 0.5, told.all_joiners + 1.0, "joining", self.live_no)

    @cached_property
    def _stays(self) -> float:
        seen = self._care.seen
        since = self._care.day - LATELY_DAYS
        lately = self._taking[seen.known[self._taking] & (seen.last[self._taking] > since)]
        return min(float(self._care.q[lately].mean()), 1.0) if lately.size else 0.9


def _of_shared_cars(each: Floats, cells: Cells, car: Counts, present: Floats) -> Floats:
    """Return what units of one car add to the variance because they are present or gone together."""
    weight = present * (1 - present)
    rows, row = np.unique(car, return_inverse=True)
    if rows.size == car.size:
        return np.zeros(each.shape[:-1])
    shape = (rows.size, cells.law.size)
    together = sparse.csr_array((np.sqrt(weight), (row, cells.of_unit)), shape=shape)
    pairs = (together.T @ together).toarray() - np.diag(cells.summed(weight))
    return np.asarray(((each @ pairs) * each).sum(axis=-1))
