"""Say in a sentence what a forecast from the installed base rests on, down to the cars, and what to check."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from scipy.stats import binomtest

from analytics.counting import count
from analytics.stock.reason import TOLD_FROM, cautions, expected

if TYPE_CHECKING:
    from analytics.stock.group_demand import GroupDemand
    from analytics.stock.history import Counted
    from analytics.stock.installed_base import BaseDemand, ByStream
    from analytics.stock.reason import Forecast
    from analytics.stock.shelf import Shelf

APART = 1.5
"""Factor between two forecasts from which a caution is said (rule 38)."""

LEAST_APART = 0.5
"""Parts by which they differ at the least."""

JOINING_P = 0.1
WHOLE_THREE_YEARS = 2.9
"""Joining of the last year is compared with the two before from here on, years."""

FEW_FAILURES = 5
NAMED_FROM = 0.5
"""Failures expected from which cars are named."""


def reason_of_base(
    demand: BaseDemand, foretold: GroupDemand, counted: Counted, shelf: Shelf, forecast: Forecast
) -> str:
    """Return the sentence: cars and units, where demand comes from, what to check.

    Parameters
    ----------
    demand
        The group's installed base.
    foretold
        Its distribution, where the demand comes from, and what the pooled rate says beside.
    counted, shelf, forecast
        Counts, stock and the figures told.
    """
    named, rate_mean = foretold.cars, foretold.rate_mean
    cars = count(demand.cars, "car that takes it", "cars that take it")
    text = (
        f"{cars} may still be in care, {demand.present:.0f} of them likely, with "
        f"{count(demand.units, 'unit')} in place; {_streams(foretold.streams)}: {expected(shelf, forecast)}"
    )
    own = {
        f"most from {_listed(named)}": bool(named) and _failing(foretold) >= NAMED_FROM,
        f"left out as a campaign: {', '.join(f'the year to {d}' for d in demand.streams.campaign_years)}": bool(
            demand.streams.campaign_years
        ),
        f"its life law rests on {count(demand.failures, 'failure')}, so this is cautious": demand.failures
        < FEW_FAILURES,
        "the records are too young to tell which cars have left": not demand.presence_fitted,
        f"its use alone says about {rate_mean or 0:.1f}: {_why_apart(demand)}": _apart(forecast.mean, rate_mean),
        "joining has changed lately, and this forecast assumes the mean of three years": _joining_changed(demand),
    }
    said = [text, *(words for words, holds in own.items() if holds)]
    return "; ".join([*said, *cautions(demand.live_no, replace(counted, campaign_years=()), shelf, forecast)]) + "."


def _failing(foretold: GroupDemand) -> float:
    return foretold.streams.failing if foretold.streams else 0.0


def _streams(streams: ByStream | None) -> str:
    if streams is None:
        return "nothing expected"
    parts = {
        f"{streams.failing:.1f} expected to fail": streams.failing >= TOLD_FROM,
        "hardly any expected to fail": streams.failing < TOLD_FROM,
        f"{streams.joining:.1f} by cars that join": streams.joining >= TOLD_FROM,
        f"{streams.planned:.1f} planned or in passing": streams.planned >= TOLD_FROM,
        f"{streams.sold:.1f} over the counter": streams.sold >= TOLD_FROM,
    }
    return ", ".join(words for words, holds in parts.items() if holds)


def _listed(cars: tuple[str, ...]) -> str:
    return cars[0] if len(cars) == 1 else f"{', '.join(cars[:-1])} and {cars[-1]}" if cars else ""


def _apart(mean: float, other: float | None) -> bool:
    if other is None:
        return False
    low, high = min(mean, other), max(mean, other)
    return high > APART * low and high - low >= LEAST_APART


def _why_apart(demand: BaseDemand) -> str:
    if demand.streams.campaign_years:
        return "here the campaign is left out and the units it fitted are young"
    if demand.streams.active_cars > APART * max(demand.present, 1.0):
        return "some of the cars seen in the last two years have likely left"
    return "here the ages of the units in place count"


def _joining_changed(demand: BaseDemand) -> bool:
    told = demand.streams
    if told.joiners == 0 or told.joining_years < WHOLE_THREE_YEARS:
        return False
    return bool(binomtest(told.joined_lately, told.joiners, 1 / 3).pvalue < JOINING_P)
