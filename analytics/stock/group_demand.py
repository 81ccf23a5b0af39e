"""The demand of one group by the best method its records allow, in order: installed base, pooled rate, family rate."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from analytics.scales import DAYS_PER_YEAR
from analytics.stock.cars_behind import expected_of_cars, named
from analytics.stock.demand import Compound, History, lead_times
from analytics.stock.laws import DRAWS
from analytics.stock.supply_end import demand_ahead

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from analytics.parameters import Parameters
    from analytics.stock.installed_base import BaseDemand, ByStream
    from analytics.stock.shelf import Shelf

    Floats = NDArray[np.float64]

HORIZONS = (30.0, 90.0, 180.0, 365.0, 730.0)
"""Days for which whole distributions are kept, besides the lead time plus review."""

CARS_NAMED = 3
"""Cars that a reason names."""

INSTALLED_BASE, POOLED_RATE, FAMILY_RATE, TOO_LITTLE = (
    "installed base",
    "pooled rate",
    "family rate",
    "too little to say",
)


@dataclass(frozen=True, slots=True)
class GroupDemand:
    """What is foretold of one group.

    Attributes
    ----------
    method
        `INSTALLED_BASE`, `POOLED_RATE` or `FAMILY_RATE`.
    horizon_days
        Median lead time plus review.
    masses
        Chance of each demand by horizon, the lead time plus review among them.
    mean
        Expected demand over the lead time plus review, parts.
    outlier
        Quantity of one repair that makes most of the demand, or None.
    until
        Gives the chance of each demand within so many days from now, also many years.
    streams, cars, of_cars
        Of an installed base: expected demand by where it comes from, the cars it names, and the repairs expected of
        every car, None of a safety-critical part.
    rate_mean, rate_mass
        What the pooled rate says beside an installed base; None without exposure.
    """

    method: str
    horizon_days: float
    masses: dict[float, Floats]
    mean: float
    outlier: int | None
    until: Callable[[float], Floats]
    streams: ByStream | None = None
    cars: tuple[str, ...] = ()
    of_cars: Floats | None = None
    rate_mean: float | None = None
    rate_mass: Floats | None = None

    @property
    def mass(self) -> Floats:
        """Return the distribution over the lead time plus review."""
        return self.masses[self.horizon_days]


def horizons_of(shelf: Shelf, parameters: Parameters) -> tuple[float, Floats]:
    """Return the median lead time plus review, and equally likely values of it, days."""
    leads = lead_times(shelf.lead_time_days, shelf.lead_time_p90_days) if shelf.lead_time_days else np.zeros(1)
    return (shelf.lead_time_days or 0.0) + parameters.review_days, leads + parameters.review_days


def by_rate(history: History, method: str, shelf: Shelf, parameters: Parameters) -> GroupDemand:
    """Return the demand at a rate of repairs per active car-year, and of sales.

    Raises
    ------
    ValueError
        If there is no exposure to learn a rate from.
    """
    horizon, days = horizons_of(shelf, parameters)
    compound = Compound(history)
    masses = {h: compound.mass(np.array([h])) for h in HORIZONS} | {horizon: compound.mass(days)}
    until = cache(lambda days: compound.mass(np.array([days])))
    return GroupDemand(method, horizon, masses, compound.mean(days), compound.one_repair_makes_most(days), until)


def by_installed_base(demand: BaseDemand, history: History, shelf: Shelf, parameters: Parameters) -> GroupDemand:
    """Return the demand of the units in the cars still in care, and of what comes beside.

    Parameters
    ----------
    demand
        The group's installed base.
    history
        Its repairs as the pooled rate counts them: their quantities tell whether one stands out.
    shelf, parameters
        Lead time, review.
    """
    horizon, leads = horizons_of(shelf, parameters)
    fixed = [h for h in HORIZONS if h != horizon]
    days = np.stack([*(np.full(DRAWS, h) for h in fixed), np.resize(leads, DRAWS)])
    repairs = demand.repairs(days)
    masses = {h: demand.predictive.mass(one) for h, one in zip((*fixed, horizon), repairs, strict=True)}
    compound = Compound(history) if history.car_years > 0 or history.sales_only else None
    of_cars = expected_of_cars(demand, days[-1:])
    return GroupDemand(
        INSTALLED_BASE,
        horizon,
        masses,
        demand.predictive.mean(repairs[-1]),
        compound.one_repair_makes_most(leads) if compound else None,
        cache(lambda days: _until(demand, days)),
        demand.by_stream(days[-1:]),
        named(demand, of_cars, CARS_NAMED),
        of_cars,
        compound.mean(leads) if compound else None,
        compound.mass(leads) if compound else None,
    )


def _until(demand: BaseDemand, days: float) -> Floats:
    """Return the demand of an installed base within so many days; beyond two years by whole years, with renewals."""
    if days <= max(HORIZONS):
        return demand.predictive.mass(demand.repairs(np.full((1, DRAWS), days))[0])
    return demand_ahead(demand, {}, int(days // DAYS_PER_YEAR)).masses[-1]


def family_history(own: History, others: Sequence[History]) -> History | None:
    """Return the rate of a part that was never used: that of its family, at the weight of one average member.

    Parameters
    ----------
    own
        The group's own history, without a repair.
    others
        Histories of the groups that serve components of the same family.

    Returns
    -------
    History or None
        None where no other group of the family was ever used.
    """
    used = [other for other in others if other.repairs > 0 and other.car_years > 0]
    if not used or own.car_years <= 0:
        return None
    repairs, years = (sum(getattr(other, name) for other in used) for name in ("repairs", "car_years"))
    members = len(used)
    quantities = np.concatenate([other.quantities for other in used])
    return replace(
        own,
        repairs=own.repairs + repairs / members,
        car_years=own.car_years + years / members,
        quantities=quantities,
    )
