"""What chance alone gives a place of one series against the others: cars of one age exchanged between series."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from scipy import sparse

from analytics.estimators.seeds import generator
from analytics.recurrence.excess import excess

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.parameters import Parameters

    Ints = NDArray[np.int64]
    Floats = NDArray[np.float64]

CELLS = 4_000_000
LEAST_YEARS = 1e-9


@dataclass(frozen=True, slots=True)
class Cars:
    """Cars with their faults and years; the series is exchanged between those that joined in one band of age.

    A cell is a band of age on joining and one of age when watched. `visits`: ``(places * cells, cars)``; `years`:
    ``(cells, cars)``; `series`, `joined`: ``(cars,)``.
    """

    visits: sparse.csr_array
    years: Floats
    series: Ints
    joined: Ints
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
    Series are compared, and dealt out anew in each draw, among cars that joined in one band of age; a car keeps its
    faults and its years, so that faults of one order, and of one car, move together. Ages on joining, and ages
    when watched, of which there is only one series say nothing and are left out.
    """
    places, series = seen["location"].unique().sort(), car_years["series"].unique().sort()
    cars = _cars(seen, car_years, places)
    found = _against(cars, cars.series[None, :], series.len())
    rows = pl.DataFrame(
        {
            "series": np.repeat(series.to_numpy(), places.len()),
            "location": np.tile(places.to_numpy(), series.len()),
            "here": found.here.ravel(),
            "rest": found.rest.ravel(),
            "share": found.share.ravel(),
        }
    )
    rng = generator("fault_location", "same place, other series", parameters.scan_draws)
    step = max(1, CELLS // max(cars.visits.shape[0], cars.series.size))
    greatest = np.empty(parameters.scan_draws)
    for begin in range(0, greatest.size, step):
        part = greatest[begin : begin + step]
        drawn = _against(cars, _dealt(cars, part.size, rng), series.len())
        part[:] = excess(drawn.here, drawn.rest, drawn.share).max(axis=(0, 1))
    return rows, greatest


def _cars(seen: pl.DataFrame, car_years: pl.DataFrame, places: pl.Series) -> Cars:
    key = ["vehicle_id", "band"]
    joined = car_years.group_by("vehicle_id").agg(pl.col("series").first(), joined=pl.col("band").min())
    joined = joined.sort("vehicle_id").with_row_index("car")
    counted = seen.group_by(*key, "location").agg(visits=pl.len())
    rows = pl.concat([counted, car_years.select(*key, "years")], how="diagonal")
    rows = rows.join(joined, on="vehicle_id", how="inner").with_columns(
        cell=pl.struct("joined", "band").rank("dense") - 1
    )
    counts = rows.drop_nulls("location").join(
        pl.DataFrame({"location": places}).with_row_index("place"), on="location", how="inner"
    )
    exposed = rows.drop_nulls("years")
    cells = int(rows["cell"].to_numpy().max()) + 1
    row = counts["place"].to_numpy().astype(np.int64) * cells + counts["cell"].to_numpy()
    visits = sparse.csr_array(
        (counts["visits"].to_numpy().astype(np.float64), (row, counts["car"].to_numpy().astype(np.int64))),
        shape=(places.len() * cells, joined.height),
    )
    years = np.zeros((cells, joined.height))
    years[exposed["cell"].to_numpy(), exposed["car"].to_numpy()] = exposed["years"].to_numpy()
    series, band = ((joined[name].rank("dense") - 1).to_numpy().astype(np.int64) for name in ("series", "joined"))
    return Cars(visits, years, series, band, places.len())


def _dealt(cars: Cars, draws: int, rng: np.random.Generator) -> Ints:
    """Return the series of every car, dealt out anew among those that joined at its age, ``(draws, cars)``."""
    dealt = np.tile(cars.series, (draws, 1))
    for band in range(int(cars.joined.max()) + 1):
        here = cars.joined == band
        dealt[:, here] = rng.permuted(dealt[:, here], axis=1)
    return dealt


def _against(cars: Cars, series_of: Ints, groups: int) -> Against:
    """Count each series against the others, ``(series, places, draws)``."""
    cells = cars.years.shape[0]
    all_visits = np.asarray(cars.visits.sum(axis=1)).reshape(cars.places, cells, 1)
    all_years = cars.years.sum(axis=1)[:, None]
    here, rest, usual = (np.empty((groups, cars.places, series_of.shape[0])) for _ in range(3))
    for group in range(groups):
        is_own = (series_of == group).T.astype(np.float64)
        own_years = cars.years @ is_own
        # an age that the series or the others never reached compares nothing
        both = (own_years > LEAST_YEARS) & (all_years - own_years > LEAST_YEARS)
        own = (cars.visits @ is_own).reshape(cars.places, cells, -1)
        here[group] = (own * both).sum(axis=1)
        rest[group] = ((all_visits - own) * both).sum(axis=1)
        part = np.where(both, own_years / np.maximum(all_years, LEAST_YEARS), 0.0)
        usual[group] = (all_visits * part).sum(axis=1)
    return Against(here, rest, usual / np.maximum(here + rest, LEAST_YEARS))
