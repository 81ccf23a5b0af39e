"""How many groups of the parts list serve the same cars and places."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.stock.fits import YES

if TYPE_CHECKING:
    from analytics.stock.fits import Fits


class Serving:
    """Counts, for each group and component, the groups that surely fit one of the same cars at one of the same places.

    Parameters
    ----------
    catalogue
        Feed table ``parts`` with `live_no` and `row`.
    fits
        Which of its rows fit which cars.
    """

    def __init__(self, catalogue: pl.DataFrame, fits: Fits) -> None:
        position = pl.col("position") if "position" in catalogue.columns else pl.lit(None, dtype=pl.String)
        rows = catalogue.select("row", "live_no", "component", position=position).drop_nulls("component")
        self._of = {str(key[0]): found for key, found in rows.partition_by("component", as_dict=True).items()}
        self._fits = fits

    def of_group(self, members: pl.DataFrame) -> dict[str, int]:
        """Return the number of groups by component, itself among them, for the components a group is listed for."""
        return {name: self._count(name, members) for name in members["component"].drop_nulls().unique().sort()}

    def _count(self, component: str, members: pl.DataFrame) -> int:
        rows = self._of[component]
        own = rows.filter(pl.col("row").is_in(members["row"].to_list()))
        others = rows.filter(pl.col("live_no") != own["live_no"][0])
        beside: set[str] = set()
        for number, live_no, _, place in others.iter_rows():
            if live_no not in beside and any(
                self._meet(number, row)
                for row, _, _, at in own.iter_rows()
                if place is None or at is None or place == at
            ):
                beside.add(live_no)
        return 1 + len(beside)

    def _meet(self, one: int, two: int) -> bool:
        """Return whether both rows surely fit one and the same car."""
        return bool(((self._fits.code[one] == YES) & (self._fits.code[two] == YES)).any())
