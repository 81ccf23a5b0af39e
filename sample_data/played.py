"""The years as they went: every car's career and road, and the shop's list of true failures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sample_data.career import Career, Shop
    from sample_data.fleet import Period
    from sample_data.lives import Travel
    from sample_data.roads import Instrument


@dataclass(frozen=True, slots=True)
class Played:
    """All careers, played to the end.

    Attributes
    ----------
    period
        The archive.
    careers
        One per car ever in care, in the order of the cars' numbers.
    roads
        Road and odometer by the car's number.
    shop
        The shop, with the faults that truly happened.
    """

    period: Period
    careers: list[Career]
    roads: dict[int, tuple[Travel, Instrument]]
    shop: Shop

    @property
    def seen(self) -> list[Career]:
        """Careers of the cars the shop saw at least once: the others are in no record."""
        return [career for career in self.careers if career.orders]

    def left(self, career: Career) -> int | None:
        """Return the last day a car was in care, None if it still is at the end of the archive."""
        if career.gone:
            return career.orders[-1].closed if career.orders else career.car.joined
        return career.car.leaves if career.car.leaves <= self.period.last else None
