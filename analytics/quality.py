"""What the records cannot tell: everything quarantined, set aside, inferred or left out, with counts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.finding import FINDING, finding
from analytics.ledger import quarantine_rows, set_aside_rows
from analytics.recurrence.places import without_circles
from analytics.safety import sign_in
from analytics.stock.interchange import interchange_groups

if TYPE_CHECKING:
    import duckdb

    from analytics.spells.exposure import Exposure

LATER = "after the as-of day"
"""What is not known on the day leaves no trace in the day's snapshot either (rule 6)."""


def data_quality(
    connection: duckdb.DuckDBPyConnection,
    exposure: Exposure,
    parts: pl.DataFrame,
    locations: pl.DataFrame,
    beside: pl.DataFrame,
) -> pl.DataFrame:
    """Return snapshot table ``data_quality``: one row per kind of finding.

    Parameters
    ----------
    connection
        An open ledger.
    exposure
        What was at risk: its `left_out`, and the readings and faults to count findings in.
    parts, locations
        Feed tables whose rows name other rows of their own table.
    beside
        kind, count, out_of, example_record, says: what later stages left out.
    """
    left_out = pl.concat(
        [
            exposure.left_out.select(*FINDING),
            _critical_by_name(connection),
            _placeless(exposure.fault),
            beside,
            _refused(exposure),
            _converted(exposure.reading),
            _read_otherwise(connection, exposure.record.height),
            _in_circle(interchange_groups(parts), parts, "part_no", "superseded_by"),
            _in_circle(without_circles(locations), locations, "location", "parent"),
        ]
    )
    waiting = _counted(quarantine_rows(connection), "waiting in quarantine", "mend it and load it again")
    aside = _counted(set_aside_rows(connection), "value set aside", "the line was kept without it")
    rows = pl.concat(
        [
            left_out.select(
                "kind",
                "count",
                pl.when(pl.col("out_of") > 0).then(pl.col("count") / pl.col("out_of")).alias("share"),
                "example_record",
                "says",
            ),
            waiting,
            aside,
        ]
    )
    return (
        rows.filter((pl.col("count") > 0) & ~pl.col("kind").str.contains(LATER, literal=True))
        .group_by("kind")
        .agg(pl.col("count").sum(), pl.col("share").max(), pl.col("example_record").first(), pl.col("says").first())
        .sort("kind")
    )


def parts_quality(misfits: pl.DataFrame, findings: pl.DataFrame, lines: pl.DataFrame) -> pl.DataFrame:
    """Return the findings on which part fits where, as rows of kind, count, out_of, example_record, says.

    Parameters
    ----------
    misfits, findings
        Snapshot tables ``part_misfit`` and ``catalogue_finding``.
    lines
        Order lines with a `part_no`.
    """
    told = lines.filter(pl.col("part_no").is_not_null()).height
    numbers = misfits["part_no"].unique().sort() if misfits.width else pl.Series([], dtype=pl.String)
    example = str(misfits["record"][0]) if misfits.height else None
    says = f"it stays as recorded; table part_misfit names car, range and what fits there: {_first(numbers)}"
    rows = [finding("part fitted to a car that it does not fit", misfits.height, told, says, example)]
    for kind in findings["kind"].unique().sort() if findings.height else ():
        found = findings.filter(pl.col("kind") == kind)
        says = f"table catalogue_finding lists all; mend the parts list: {found['says'][0]}"
        rows.append(finding(f"parts list: {kind}", found.height, 0, says))
    return pl.concat(rows)


def _converted(readings: pl.DataFrame) -> pl.DataFrame:
    """Count the odometer figures that were taken for something else than what they say."""
    found = readings.filter(pl.col("verdict").str.starts_with("converted"))
    return (
        found.group_by("verdict")
        .agg(count=pl.len().cast(pl.Int64))
        .select(
            kind=pl.format("odometer figure {}", "verdict"),
            count="count",
            out_of=pl.lit(readings.height, dtype=pl.Int64),
            example_record=pl.lit(None, dtype=pl.String),
            says=pl.lit("used, on the car's own clock"),
        )
    )


def _read_otherwise(connection: duckdb.DuckDBPyConnection, lines: int) -> pl.DataFrame:
    """Count the lines with a name that is read as another one: another spelling, or said by a person to be the same."""
    names: pl.DataFrame = connection.table("name_read").pl().filter(pl.col("lines") > 0)
    pair = pl.format("{} as {}", "written", "shown")
    why = pl.when("stated").then(pl.lit("said to be another one")).otherwise(pl.lit("written otherwise"))
    return (
        names.sort("lines", "kind", "within", "written", descending=[True, False, False, False])
        .group_by(kind=pl.format("{} {}", "kind", why), maintain_order=True)
        .agg(
            pl.col("lines").sum().alias("count"),
            pl.col("example").first().alias("example_record"),
            pl.col("stated").first(),
            told=pair.unique(maintain_order=True).head(5).str.join(", "),
        )
        .sort("kind")
        .select(
            "kind",
            "count",
            out_of=pl.lit(lines, dtype=pl.Int64),
            example_record="example_record",
            says=pl.format(
                "{}; the records stay as written: {}",
                pl.when("stated")
                .then(pl.lit("as `wearledger same` lists"))
                .otherwise(pl.lit("only case, blanks, punctuation or words for sides differ")),
                "told",
            ),
        )
    )


def _refused(exposure: Exposure) -> pl.DataFrame:
    """Count the components that get no distance law (rule 29)."""
    share = exposure.distance_share
    names = share.filter("refused")["component"].sort()
    says = f"km are missing unevenly for failed and other units: {_first(names)}"
    return finding("component without a distance law", names.len(), share.height, says)


def _critical_by_name(connection: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """Count the components that nobody called safety-critical or not, and that are taken for it (rule 39)."""
    facts = connection.table("component_fact").pl()
    taken = facts.filter(pl.col("safety_told_by") == "by name").sort("component").select("component", "system")
    names = pl.Series([f"{name} (“{sign_in(name, system)}”)" for name, system in taken.iter_rows()], dtype=pl.String)
    says = f"no life is shown for it; the components table can say otherwise: {_first(names)}"
    return finding("component taken as safety-critical by its name", names.len(), facts.height, says)


def _in_circle(found: pl.DataFrame, table: pl.DataFrame, name: str, points_to: str) -> pl.DataFrame:
    """Count the names that point to themselves, be it over others: each circle was opened at its smallest name."""
    itself = table.filter(pl.col(points_to) == pl.col(name))[name]
    names = pl.concat([found.filter("in_circle")[name], itself]).unique().sort()
    says = f"taken as if the smallest led nowhere; leave its {points_to} empty, or mend it: {_first(names)}"
    example = f"{name} {names[0]}" if names.len() else None
    return finding(f"{points_to} leads back to the same {name}", names.len(), table[name].n_unique(), says, example)


def _placeless(faults: pl.DataFrame) -> pl.DataFrame:
    """Count the faults whose lines name no place on the car."""
    blank = faults.filter(pl.col("location").is_null())["fault_record"]
    example = str(blank.min()) if blank.len() else None
    return finding("fault without a place", blank.len(), faults.height, "left out where places are counted", example)


def _first(names: pl.Series) -> str:
    return ", ".join(names.head(5).to_list())


def _counted(rows: pl.DataFrame, what: str, says: str) -> pl.DataFrame:
    place = pl.format("{}, row {}", "file", "row_no")
    return (
        rows.group_by("table", "column", maintain_order=True)
        .agg(count=pl.len().cast(pl.Int64), example_record=place.first())
        .select(
            kind=pl.format("{}: {}, {}", pl.lit(what), "table", "column"),
            count="count",
            share=pl.lit(None, dtype=pl.Float64),
            example_record="example_record",
            says=pl.lit(says),
        )
    )
