"""How much the life of a part turns on what was chosen: when watching ends, which units count, which scale."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.estimators import life_models

if TYPE_CHECKING:
    from analytics.parameters import Parameters

AS_SHOWN = "as shown"
KNOWN_AGE = "known age only"
BY_DISTANCE = "by distance"
GROUP = ["component", "grouping", "scale"]
UNIT = ("vehicle_id", "component", "position", "unit_no")
TIMES = ("entry", "exit", "exit_lower", "event", "age_known", "vehicle_age")
TOLD = ("scale", "failures", "units", "life50", "life50_lower", "life50_upper", "basis", "status")


def life_sensitivity(
    models: pl.DataFrame, spells: pl.DataFrame, other: pl.DataFrame, facts: pl.DataFrame, parameters: Parameters
) -> pl.DataFrame:
    """Return the median life of every component once per choice.

    Parameters
    ----------
    models
        Snapshot table ``life_model``, whose rows of grouping ``component`` are what is shown.
    spells
        Snapshot table ``spell``.
    other
        The spells by age if watching ended otherwise: `ending` and the columns of spells.
    facts
        `component`, `family`.
    parameters
        Those of rule 34.

    Returns
    -------
    DataFrame
        Snapshot table ``sensitivity``: component, choice, scale, failures, units, life50 with limits (days or km),
        basis, status, and times_shown: the median life as a multiple of the one shown; null by distance, and where
        either has none.

    Notes
    -----
    A family pools its members under one choice, as in ``life_model``.
    """
    if models.is_empty():
        return pl.DataFrame()
    on_age = pl.col("scale") == "age"
    known = spells.filter(on_age & pl.col("age_known")).select(*UNIT, *TIMES, "scale", grouping=pl.lit(KNOWN_AGE))
    ended = other.select(*UNIT, *TIMES, scale=pl.lit("age"), grouping="ending")
    rows = pl.concat([ended, known]).join(facts.select("component", "family"), on="component", how="left")
    otherwise, _ = life_models(rows, by=GROUP, family="family", parameters=parameters)
    choice = pl.when(on_age).then(pl.lit(AS_SHOWN)).otherwise(pl.lit(BY_DISTANCE))
    told = pl.concat(
        [
            models.filter(pl.col("grouping") == "component").select("component", *TOLD, choice=choice),
            otherwise.select("component", *TOLD, choice="grouping"),
        ],
        how="diagonal",
    ).select("component", "choice", *TOLD)
    shown = told.filter(pl.col("choice") == AS_SHOWN).select("component", shown="life50")
    return (
        told.join(shown, on="component", how="left")
        .with_columns(times_shown=pl.when(on_age).then(pl.col("life50") / pl.col("shown")))
        .drop("shown")
        .sort("component", "choice")
    )
