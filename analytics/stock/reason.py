"""Say in a sentence what an order rests on, and what to check before trusting it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analytics.counting import count, watched
from analytics.stock.costs import HIGHEST_LEVEL
from analytics.stock.demand import MOST_TOLD

if TYPE_CHECKING:
    from analytics.stock.costs import Costs
    from analytics.stock.history import Counted
    from analytics.stock.quantity import Order
    from analytics.stock.shelf import Shelf


TOLD_FROM = 0.05
"""Parts from which a mean is told as a figure."""


@dataclass(frozen=True, slots=True)
class Forecast:
    """What the sentence tells of the demand until the delivery after this one.

    Attributes
    ----------
    horizon_days, review_days
        Days covered, and those of them between two looks at the shelf.
    mean
        Expected demand, parts.
    level, most
        Service level asked for, and the demand not exceeded with it, parts.
    outlier
        Quantity of one repair that makes most of the demand, or None.
    in_circle
        Whether the group's numbers supersede each other in a circle.
    of_family
        Whether the rate of its family is meant.
    why_rate
        Why the group goes by a rate and not by its installed base, or None.
    order
        What to order now.
    costs
        Where they set the level, or why stated ones do not; None = the setting rules.
    """

    horizon_days: float
    review_days: float
    mean: float
    level: float
    most: int
    outlier: int | None
    in_circle: bool
    of_family: bool = False
    why_rate: str | None = None
    order: Order | None = None
    costs: Costs | None = None


def reason(live_no: str, counted: Counted, shelf: Shelf, forecast: Forecast) -> str:
    """Return the sentence: the history, what it lets expect, and what to check."""
    history = counted.history
    if forecast.of_family:
        years = watched(history.car_years, "car-years")
        text = f"never used in {years}, so the rate of its family speaks: {expected(shelf, forecast)}"
        return "; ".join([text, *cautions(live_no, counted, shelf, forecast)]) + "."
    if history.sales_only:
        return "; ".join([_of_sales(counted, shelf, forecast), *cautions(live_no, counted, shelf, forecast)]) + "."
    repairs = count(int(history.repairs), "repair") if history.repairs else "no repair"
    text = (
        f"{repairs} took it in {watched(history.car_years, 'car-years')}, and {history.active_cars} cars are "
        f"active: {expected(shelf, forecast)}"
    )
    if history.sales_years > 0:
        text += f", {history.sales} sold over the counter in {history.sales_years:.1f} years included"
    return "; ".join([text, *cautions(live_no, counted, shelf, forecast)]) + "."


def _of_sales(counted: Counted, shelf: Shelf, forecast: Forecast) -> str:
    history = counted.history
    return (
        f"{history.sales} sold or asked for in {history.sales_years:.1f} years, {history.per_month:.2g} a month; no "
        f"car that takes it was seen in the last five years, so sales alone speak: {expected(shelf, forecast)}"
    )


def expected(shelf: Shelf, forecast: Forecast) -> str:
    """Say how much is needed until the delivery after this one, on average and at most."""
    return (
        f"{_about(forecast.mean)} until the delivery after this one, {forecast.horizon_days:.0f} days "
        f"away{_late(shelf, forecast)}, and in {100 * min(forecast.level, HIGHEST_LEVEL):.6g} of 100 cases no more "
        f"than {forecast.most}{_order(forecast.order)}"
    )


def _about(mean: float) -> str:
    """Return a mean number of parts, never as nothing."""
    return f"about {mean:.1f}" if mean >= TOLD_FROM else "fewer than 0.1"


def _order(order: Order | None) -> str:
    if order is None or order.available is None:
        return ""
    return (
        f"; {order.available:.6g} can be counted on, so {f'order {order.quantity}' if order.quantity else 'order none'}"
    )


def _late(shelf: Shelf, forecast: Forecast) -> str:
    if shelf.lead_time_p90_days and shelf.lead_time_days and shelf.lead_time_p90_days > shelf.lead_time_days:
        return f" ({shelf.lead_time_p90_days + forecast.review_days:.0f} if the delivery is late)"
    return ""


def cautions(live_no: str, counted: Counted, shelf: Shelf, forecast: Forecast) -> list[str]:
    """Return what to check before trusting a forecast."""
    years = ", ".join(f"the year to {until.isoformat()}" for until in counted.campaign_years)
    told = {
        f"its rate of use speaks, because {forecast.why_rate}": forecast.why_rate is not None,
        f"left out as a campaign: {years}": bool(years),
        f"one repair of {forecast.outlier or 0:,} (order {counted.largest_order}) makes most of this demand: check its "
        "quantity": forecast.outlier is not None,
        f"demands of {MOST_TOLD:,} or more are not told apart: check the quantities": forecast.most >= MOST_TOLD,
        f"a service level above {100 * HIGHEST_LEVEL:.6g} of 100 cannot be told, so that one is used": forecast.level
        > HIGHEST_LEVEL,
        f"its numbers supersede each other in a circle, so {live_no} is taken as the one on sale: correct "
        "superseded_by": forecast.in_circle,
        "no lead time is stated, so only the review period is covered": shelf.lead_time_days is None,
        "no stock count is recorded, so no quantity to order is given": shelf.on_hand is None,
    }
    return [*(text for text, holds in told.items() if holds), *_of_the_shelf(shelf, forecast)]


def _of_the_shelf(shelf: Shelf, forecast: Forecast) -> list[str]:
    """Return what age, old numbers and costs do to the order."""
    order, costs = forecast.order, forecast.costs
    cut = order.cut_from if order else None
    ageing = shelf.ages_unused(forecast.horizon_days, forecast.mean / forecast.horizon_days)
    told = {
        f"{_so_many(shelf.aged)} on the shelf beyond the shelf life, and not counted": shelf.aged > 0,
        f"{ageing:.6g} more will be before they are used": ageing > 0,
        f"{cut} would be ordered, but so many would likely outlast their shelf life": cut is not None,
        f"{_so_many(shelf.old_numbers)} on hand under superseded numbers: see what they fit": shelf.old_numbers > 0,
        "the service level follows from the costs stated": costs is not None and costs.why_not is None,
        f"{costs.why_not if costs else ''}": costs is not None and costs.why_not is not None,
    }
    return [text for text, holds in told.items() if holds]


def _so_many(number: float) -> str:
    """Return a number with its verb."""
    return f"{number:.6g} {'is' if number == 1 else 'are'}"
