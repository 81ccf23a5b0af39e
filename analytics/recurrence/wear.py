"""Whether a component wears by age or by distance: its units of known age on both scales."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.estimators import choose_scale
from analytics.scales import DAYS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analytics.parameters import Parameters

UNIT = ["component", "vehicle_id", "position", "unit_no", "start_record"]
"""What a spell on one scale shares with that of the same unit on the other."""

UNEVEN = "km missing unevenly"


def scale_choices(spells: pl.DataFrame, refused: Sequence[str], parameters: Parameters) -> pl.DataFrame:
    """Return snapshot table ``scale_choice``.

    Parameters
    ----------
    spells
        Snapshot table ``spell``.
    refused
        Components that have no distance law (rule 29).
    parameters
        `scale_failures`, `scale_rate_spread`, `distance_refusal_points`, `confidence`.

    Notes
    -----
    Units of unknown age take no part: the law of a unit met at random is known on age and on distance, not on a
    mixture of the two. A unit whose watching a long stay in the workshop cut in two is taken as watched throughout.
    """
    paired = on_both_scales(spells)
    if paired.is_empty():
        return pl.DataFrame()
    found = choose_scale(paired, "component", parameters=parameters)
    uneven = pl.col("component").is_in(list(refused)) & (pl.col("status") != UNEVEN)
    figures = ("log_likelihood_age", "log_likelihood_distance", "theta", "lower", "upper")
    return found.with_columns(
        *(pl.when(~uneven).then(name).alias(name) for name in figures),
        verdict=pl.when(uneven).then(pl.lit("cannot be told")).otherwise("verdict"),
        status=pl.when(uneven).then(pl.lit(UNEVEN)).otherwise("status"),
    )


def on_both_scales(spells: pl.DataFrame) -> pl.DataFrame:
    """Return the units of known age with their spells on both scales, as `choose_scale` takes them."""
    known = spells.filter("age_known")
    ends = [
        known.filter(pl.col("scale") == scale)
        .group_by(UNIT)
        .agg(
            pl.col("entry").min().alias(f"{scale}_entry"),
            pl.col("exit").max().alias(f"{scale}_exit"),
            pl.col("exit_lower").max().alias(f"{scale}_exit_lower"),
            *((pl.col("event").max(),) if scale == "age" else (pl.col("km_per_year").max(),)),
        )
        for scale in ("age", "distance")
    ]
    # an interval counts as one where it is one on both scales
    interval = (pl.col("age_exit_lower") < pl.col("age_exit")) & (
        pl.col("distance_exit_lower") < pl.col("distance_exit")
    )
    return (
        ends[0]
        .join(ends[1], on=UNIT, how="left", nulls_equal=True)
        .sort(UNIT)
        .with_columns(
            pl.when(interval).then(pl.col("age_exit_lower", "distance_exit_lower")),
            slope=pl.col("km_per_year") / DAYS_PER_YEAR,
        )
    )
