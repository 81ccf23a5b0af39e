"""What chance alone gives a place of one series against the others: cars of one age exchanged between series."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from scipy import sparse

from analytics.recurrence.excess import excess, seeded

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.parameters import Parameters

    Ints = NDArray[np.int64]
    Floats = NDArray[np.float64]

CELLS = 4_000_000
LEAST_YEARS = 1e-9


@dataclass(frozen=True, slots=True)
class Pieces:
    """Cars within one band of age: exposure, faults by place, and the series that is exchanged.

    `visits`: ``(places * bands, pieces)``; `band`, `series`, `years`: ``(pieces,)``, bands in order.
    """

    visits: sparse.csr_array
    band: Ints
    series: Ints
    years: Floats
    places: int


@dataclass(frozen=True, slots=True)
class Against:
    """Per series, place and draw: faults `here`, at the same place of the other series (`rest`), and the `share`."""

    here: Floats
    rest: Floats
    share: Floats


def compared(seen: pl.DataFrame, car_years: pl.DataFrame, parameters: Parameters) -> tuple[pl.DataFrame, Floats]:
    """Compare every place of every series with the other series, as recorded and as chance alone would have it.

    Parameters
    ----------
    seen
        `vehicle_id`, `series`, `location` (places above included), `band`: one row per visit and place.
    car_years
        `vehicle_id`, `series`, `band`, `years`.
    parameters
        `scan_draws`.

    Returns
    -------
    tuple
        `series`, `location`, `here`, `rest`, `share`, a row each; and the greatest excess of each draw, ``(draws,)``.

    Notes
    -----
    Within each band of car age the series are dealt out anew among the cars; a car keeps its faults and its years,
    so that faults of one order, and of one car, move together. Bands that only one series reached say nothing
    and are left out.
    """
    keys = pl.concat([part.select("band", "vehicle_id", "series") for part in (seen, car_years)]).unique()
    cars = keys.sort("band", "vehicle_id").with_row_index("piece")
    places, series = seen["location"].unique().sort(), cars["series"].unique().sort()
    pieces = _pieces(seen, car_years, cars, places)
    found = _against(pieces, pieces.series[None, :], series.len())
    rows = pl.DataFrame(
        {
            "series": np.repeat(series.to_numpy(), places.len()),
            "location": np.tile(places.to_numpy(), series.len()),
            "here": found.here.ravel(),
            "rest": found.rest.ravel(),
            "share": found.share.ravel(),
        }
    )
    rng = seeded("fault_location", "same place, other series", parameters.scan_draws)
    step = max(1, CELLS // max(pieces.visits.shape[0], pieces.series.size))
    greatest = np.empty(parameters.scan_draws)
    for begin in range(0, greatest.size, step):
        part = greatest[begin : begin + step]
        drawn = _against(pieces, _dealt(pieces, part.size, rng), series.len())
        part[:] = excess(drawn.here, drawn.rest, drawn.share).max(axis=(0, 1))
    return rows, greatest


def _pieces(seen: pl.DataFrame, car_years: pl.DataFrame, cars: pl.DataFrame, places: pl.Series) -> Pieces:
    key = ["band", "vehicle_id"]
    bands = cars["band"].unique().sort()
    coded = cars.join(car_years.select(*key, "years"), on=key, how="left", maintain_order="left").with_columns(
        band_no=pl.col("band").rank("dense") - 1, series_no=pl.col("series").rank("dense") - 1
    )
    counts = (
        seen.group_by(*key, "location")
        .agg(visits=pl.len())
        .join(coded.select(*key, "piece", "band_no"), on=key, how="inner")
        .join(pl.DataFrame({"location": places}).with_row_index("place"), on="location", how="inner")
    )
    row = counts["place"].to_numpy().astype(np.int64) * bands.len() + counts["band_no"].to_numpy()
    visits = sparse.csr_array(
        (counts["visits"].to_numpy().astype(np.float64), (row, counts["piece"].to_numpy().astype(np.int64))),
        shape=(places.len() * bands.len(), coded.height),
    )
    years = coded["years"].fill_null(0.0).to_numpy()
    band, group = (coded[name].to_numpy().astype(np.int64) for name in ("band_no", "series_no"))
    return Pieces(visits, band, group, years, places.len())


def _dealt(pieces: Pieces, draws: int, rng: np.random.Generator) -> Ints:
    """Return the series of every piece, dealt out anew within its band, ``(draws, pieces)``."""
    dealt = np.tile(pieces.series, (draws, 1))
    for band in range(int(pieces.band.max()) + 1):
        here = pieces.band == band
        dealt[:, here] = rng.permuted(dealt[:, here], axis=1)
    return dealt


def _against(pieces: Pieces, series_of: Ints, groups: int) -> Against:
    """Count each series against the others, ``(series, places, draws)``."""
    bands = int(pieces.band.max()) + 1
    by_band = (pieces.band == np.arange(bands)[:, None]) * pieces.years
    all_visits = np.asarray(pieces.visits.sum(axis=1)).reshape(pieces.places, bands, 1)
    all_years = by_band.sum(axis=1)[:, None]
    here, rest, usual = (np.empty((groups, pieces.places, series_of.shape[0])) for _ in range(3))
    for group in range(groups):
        is_own = (series_of == group).T.astype(np.float64)
        own_years = by_band @ is_own
        # a band that the series or the others never reached compares nothing
        both = (own_years > LEAST_YEARS) & (all_years - own_years > LEAST_YEARS)
        own = (pieces.visits @ is_own).reshape(pieces.places, bands, -1)
        here[group] = (own * both).sum(axis=1)
        rest[group] = ((all_visits - own) * both).sum(axis=1)
        part = np.where(both, own_years / np.maximum(all_years, LEAST_YEARS), 0.0)
        usual[group] = (all_visits * part).sum(axis=1)
    return Against(here, rest, usual / np.maximum(here + rest, LEAST_YEARS))
