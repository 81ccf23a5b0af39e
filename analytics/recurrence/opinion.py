"""What an expert says of a part's life beside what the records say, and what both say together."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators import life_posterior
from analytics.estimators.elicited import MOST_CARS, stated_log_median
from analytics.finding import finding
from analytics.scales import DAYS_PER_YEAR

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.parameters import Parameters

TOLD = ("component", "first_years", "first_good", "second_years", "second_good", "cars", "source")
LIMITS = ("life50", "life50_lower", "life50_upper")
NEVER_WATCHED = "opinion of a component that was never watched"
TWICE = "second opinion of one component"


def opinions_beside(
    opinions: pl.DataFrame, spells: pl.DataFrame, parameters: Parameters
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Put every opinion beside the records of its component.

    Parameters
    ----------
    opinions
        Feed table ``opinions``; may be empty.
    spells
        Snapshot table ``spell``.
    parameters
        Those of rule 34.

    Returns
    -------
    tuple of DataFrame
        Snapshot table ``expert_opinion``: the opinion as stated; `cars_counted`; `failures` and `units` of the records;
        `opinion_life50` (days, the law through both stated points); `records_life50` and `life50`, from the records
        alone and with the opinion, each with limits; `opinion_share`, `basis` and `status` of both together as
        `life_posterior` returns them. And what was left out, as rows of ``data_quality``.

    Notes
    -----
    Methods B3.7. No other table uses the opinions: forecasts, curves and lives rest on records.
    """
    once = opinions.select(TOLD).sort(TOLD).unique("component", keep="first", maintain_order=True)
    on_age = spells.filter(pl.col("scale") == "age", pl.col("component").is_in(once["component"].implode()))
    watched = once.filter(pl.col("component").is_in(on_age["component"].unique().implode()))
    left_out = _left_out(opinions, once, watched)
    if watched.is_empty():
        return pl.DataFrame(), left_out
    told = life_posterior(on_age, "component", prior=_prior(watched), parameters=parameters)
    alone = life_posterior(on_age, "component", parameters=parameters)
    watched = watched.with_columns(
        cars_counted=pl.col("cars").clip(upper_bound=MOST_CARS),
        opinion_life50=pl.Series(np.exp(stated_log_median(*_points(watched)))),
    )
    records = alone.select("component", *(pl.col(life).alias(f"records_{life}") for life in LIMITS))
    both = told.select("component", "failures", "units", *LIMITS, "basis", "status", opinion_share="prior_share")
    rows = watched.join(records, on="component").join(both, on="component")
    return rows.sort("component"), left_out


def _prior(opinions: pl.DataFrame) -> pl.DataFrame:
    """Return opinions as `life_posterior` takes them: ages in days, shares still good."""
    return opinions.select(
        "component",
        "cars",
        *(pl.col(f"{which}_years").mul(DAYS_PER_YEAR).alias(f"{which}_age") for which in ("first", "second")),
        *(pl.col(f"{which}_good").truediv(10).alias(f"{which}_good") for which in ("first", "second")),
    )


def _points(opinions: pl.DataFrame) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return logs of both ages in days, and the shares still good then."""
    years, good = (opinions.select(f"first_{what}", f"second_{what}").to_numpy() for what in ("years", "good"))
    return np.log(years * DAYS_PER_YEAR), good / 10


def _left_out(opinions: pl.DataFrame, once: pl.DataFrame, watched: pl.DataFrame) -> pl.DataFrame:
    """Return the opinions that are beside nothing, as rows of ``data_quality``."""
    unwatched, again = once.height - watched.height, opinions.height - once.height
    return pl.concat(
        [
            finding(NEVER_WATCHED, unwatched, opinions.height, "it is shown once a part has been watched"),
            finding(TWICE, again, opinions.height, "one row counts: give one per component"),
        ]
    )
