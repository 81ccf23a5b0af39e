"""How long parts last: curves and life models of every component, in every grouping."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from analytics.estimators import kaplan_meier, models_and_laws, rate
from analytics.recurrence.comparison import comparisons
from analytics.recurrence.curve_start import curve_starts
from analytics.recurrence.replacement import planned_replacement
from analytics.scales import DAYS_PER_YEAR

if TYPE_CHECKING:
    from analytics.parameters import Parameters

GROUP = ["component", "grouping", "level", "scale"]
COLUMN_OF = {
    "variant": "fitted_variant",
    "part_origin": "part_origin",
    "series": "series",
    "position": "position",
    "action": "started_by",
}
"""Column of the spells behind each grouping; grouping ``component`` has the one level ``all``."""


@dataclass(frozen=True, slots=True)
class Lives:
    """Tables ``survival_curve``, ``life_model``, ``life_survival``, ``comparison`` and ``planned_replacement``."""

    curves: pl.DataFrame
    models: pl.DataFrame
    survival: pl.DataFrame
    comparison: pl.DataFrame
    planned: pl.DataFrame


def grouped_spells(spells: pl.DataFrame) -> pl.DataFrame:
    """Return the spells once per grouping they belong to (rule 33), with `grouping` and `level`.

    A variant counts where the fitting or the factory tells it.
    A grouping with a single level says the same as the component and is left out, except ``variant``
    and ``series``: there one level is an answer too.
    """
    spells = spells.with_columns(fitted_variant=fitted_variant())
    parts = [spells.with_columns(grouping=pl.lit("component"), level=pl.lit("all"))]
    for grouping, column in COLUMN_OF.items():
        levels = pl.col(column).n_unique().over("component")
        least = 1 if grouping in ("variant", "series") else 2
        parts.append(spells.filter(levels >= least).with_columns(grouping=pl.lit(grouping), level=pl.col(column)))
    return pl.concat(parts)


def fitted_variant() -> pl.Expr:
    """Return the variant where the fitting or the factory tells it, else ``unknown``.

    Notes
    -----
    A number read off the part when it is taken out tells the variant of units that ended, and of no other:
    with them a variant would look shorter-lived than it is (``tests/truth/test_variant_told_by.py``).
    """
    told = pl.col("variant_told_by").is_in(["fitting", "factory"])
    return pl.when(told).then("variant").otherwise(pl.lit("unknown"))


def lives(spells: pl.DataFrame, facts: pl.DataFrame, seen: pl.DataFrame, parameters: Parameters) -> Lives:
    """Return curves, life models and survival at whole ages for every component and grouping.

    Parameters
    ----------
    spells
        Snapshot table ``spell`` with `started_by` (action that fitted the unit, or ``as found``).
    facts
        `component`, `family`, `safety_critical`, and where known `system`, by which pages choose their cautions, and
        `safety_told_by`.
    seen
        `component`, `events_seen`, `events_used`: failures before and after the window rules.
    parameters
        `confidence`, `risk_set_least`, and those of rules 33 and 34.

    Returns
    -------
    Lives
        Frames with the columns of their snapshot tables.

    Notes
    -----
    Curves are product-limit, of units of known age only (rule 27), and start where enough units are watched
    after the last gap (rule 32). Models are the grid posterior of rule 34, of all units; a family pools the
    components of one `family` on one scale. Levels are compared by their own laws alone.
    """
    grouped = grouped_spells(spells)
    if grouped.is_empty():
        empty = pl.DataFrame()
        return Lives(empty, empty, empty, empty, empty)
    families = grouped.join(facts.select("component", "family"), on="component", how="left")
    models, survival, laws = models_and_laws(families, by=GROUP, family="family", parameters=parameters)
    told = [column for column in ("system", "safety_told_by") if column in facts.columns]
    rows = (
        models.join(seen, on="component", how="left")
        .with_columns(pl.col("events_seen", "events_used").fill_null(0))
        .join(facts.select("component", "safety_critical", *told), on="component", how="left")
        .with_columns(pl.col("safety_critical").fill_null(value=False))
    )
    rows = _with_rate_limit(rows, parameters)
    models = with_default_grouping(rows, spells, parameters)
    curves, compared = survival_curves(grouped, parameters), comparisons(laws, parameters)
    return Lives(curves, models, survival, compared, planned_replacement(laws, models, parameters))


def _with_rate_limit(rows: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    """Add the exact upper limit of failures per 100 unit-years; on the distance scale it says nothing."""
    hundred_years = rows["unit_time"] / (100 * DAYS_PER_YEAR)
    limit = rate(rows["failures"], hundred_years, confidence=parameters.confidence)["upper"]
    on_age = (pl.col("scale") == "age") & (pl.col("unit_time") > 0)
    return rows.with_columns(rate_upper=limit).with_columns(rate_upper=pl.when(on_age).then("rate_upper"))


def survival_curves(grouped: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    """Return the product-limit curve of every group, conditional on lasting to its start (rule 32)."""
    known = grouped.filter("age_known")
    starts = curve_starts(known, GROUP, parameters.risk_set_least)
    after = known.join(starts, on=GROUP, how="inner").filter(pl.col("exit") > pl.col("start"))
    if after.is_empty():
        return pl.DataFrame()
    after = after.with_columns(entry=pl.max_horizontal("entry", "start"))
    curve = kaplan_meier(after.select(*GROUP, "entry", "exit", "event"), by=GROUP, confidence=parameters.confidence)
    return (
        curve.filter(pl.col("events") > 0)
        .join(starts, on=GROUP, how="left")
        .filter(pl.col("end").is_null() | (pl.col("time") <= pl.col("end")))
        .select(
            *GROUP,
            pl.col("start").alias("given_lasted_to"),
            "time",
            "at_risk",
            "events",
            "survival",
            "lower",
            "upper",
        )
        .sort(*GROUP, "time")
    )


def with_default_grouping(rows: pl.DataFrame, spells: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    """Mark the groups that pages and forecasts use (rule 33).

    Parameters
    ----------
    rows
        `component`, `grouping`, `level`, `scale`, `failures`.
    spells
        Snapshot table ``spell``.
    parameters
        `variant_failures`, `variant_known_share`.

    Returns
    -------
    polars.DataFrame
        The rows with `default_grouping`: variants where they have failures enough and half of the units are of known
        variant, else the component.
    """
    known = spells.group_by("component", "scale").agg(known_share=(fitted_variant() != "unknown").mean())
    fit_variant = (
        (pl.col("grouping") == "variant")
        & (pl.col("level") != "unknown")
        & (pl.col("failures") >= parameters.variant_failures)
        & (pl.col("known_share") >= parameters.variant_known_share)
    )
    marked = rows.join(known, on=["component", "scale"], how="left").with_columns(of_variant=fit_variant)
    any_variant = pl.col("of_variant").any().over("component", "scale")
    return marked.with_columns(
        default_grouping=pl.when(any_variant).then("of_variant").otherwise(pl.col("grouping") == "component")
    ).drop("known_share", "of_variant")
