"""What fails next: components that fail after another one more often than before it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators import adjust_p_values, order_symmetry, proportion
from analytics.estimators.order_symmetry import followers, null_share
from analytics.finding import finding
from analytics.recurrence.declared_pairs import declared_pairs
from analytics.recurrence.fault_pairs import COUNTED, FaultPairs, find_pairs
from analytics.recurrence.numbered_faults import beside_faults, components_of, numbered_faults

if TYPE_CHECKING:
    from datetime import date

    from analytics.parameters import Parameters
    from analytics.recurrence.numbered_faults import FollowOnRecords

PAIR = ["kind", "other"]

COLUMNS = [
    *("first", "then", "window_days", "n_first_then", "n_then_first", "expected_share", "p_value", "adjusted_p"),
    *("tests", "declared", "stated", "told_by", "set_apart"),
    *("first_watched", "followed", "share", "share_lower", "share_upper"),
    *("median_days", "median_status", "first_safety_critical", "then_safety_critical", "status"),
]


@dataclass(frozen=True, slots=True)
class FollowOn:
    """Snapshot tables ``follow_on`` and ``follow_on_pair``, and rows of ``data_quality`` on what was left out."""

    follow_on: pl.DataFrame
    pairs: pl.DataFrame
    left_out: pl.DataFrame


def follow_on(records: FollowOnRecords, parameters: Parameters, as_of: date) -> FollowOn:
    """Test for every two components whether one fails after the other more often than before it.

    Parameters
    ----------
    records
        As read from the ledger on a day.
    parameters
        `follow_on_days`, `follow_on_least`, `follow_on_calendar_pairs`, `follow_on_together_share`, `confidence`.
    as_of
        The day.

    Notes
    -----
    Rule 37, methods B4.6. Both orders are rows. The share expected in one order is that of the pairs of different cars,
    so that seasons and designs that came and went make no finding, and a car's own pairs do not either. A pair of
    components is declared where the feed's components state that the first may harm the second, or a record gives
    `consequence` as its reason; declared pairs are adjusted among themselves. Where nothing but the pairs that are
    tested declares it, the first of them is left out of the test: chosen by it, it proves nothing. Where the first is
    often renewed as the second fails, the first seldom fails after the second for that reason, and the order tells
    nothing.
    """
    names = components_of(records.fault)
    events = numbered_faults(records, names, parameters.follow_on_days, as_of)
    beside = beside_faults(records, events, names)
    found = find_pairs(events, beside, len(names), parameters.follow_on_days)
    told = declared_pairs(events, parameters.follow_on_days)
    rows = _counted(found, told, events, _numbered(records.stated, names))
    rows = _expected(rows, found, events, parameters)
    rows = _tested(_followed(rows, found, events, beside, parameters), parameters)
    left_out = pl.concat([_left_out(found, events), _unknown(records)])
    return FollowOn(_named(rows, names, records, parameters), _pairs(found, told, events, names), left_out)


def _numbered(stated: pl.DataFrame, names: pl.Series) -> pl.DataFrame:
    """Return the pairs that are stated of components that have failed, by number."""
    number = pl.DataFrame({"name": names, "number": np.arange(len(names))}, {"name": pl.String, "number": pl.Int64})
    ends = stated.join(number, left_on="first", right_on="name").rename({"number": "kind"})
    ends = ends.join(number, left_on="then", right_on="name").rename({"number": "other"})
    return ends.select(*PAIR, stated=pl.lit(value=True))


def _counted(found: FaultPairs, told: pl.DataFrame, events: pl.DataFrame, stated: pl.DataFrame) -> pl.DataFrame:
    """Return a row per ordered pair: kind, other, ahead, behind, median_days, declared, stated, told_by, set_apart."""
    kind = events["kind"]
    ordered = found.counted.with_columns(
        kind=kind.gather(found.counted["first"]), other=kind.gather(found.counted["then"])
    ).join(
        told.filter("later").select(then="event", kind="kind", other="other", says=pl.lit(value=True)),
        on=["then", *PAIR],
        how="left",
    )
    here = ordered.group_by(PAIR).agg(
        ahead=pl.len().cast(pl.Int64), median_days=pl.col("days").median(), says=pl.col("says").any()
    )
    both = pl.concat([here.select(PAIR), here.select(kind="other", other="kind")]).unique()
    said = told.group_by(PAIR).agg(told_by=pl.len().cast(pl.Int64), alone=pl.col("later").all())
    return (
        both.join(here, on=PAIR, how="left")
        .join(here.select(kind="other", other="kind", behind="ahead"), on=PAIR, how="left")
        .join(said, on=PAIR, how="left")
        .join(stated, on=PAIR, how="left")
        .with_columns(
            pl.col("ahead", "behind", "told_by").fill_null(0), pl.col("alone", "says", "stated").fill_null(value=False)
        )
        .with_columns(
            declared=(pl.col("told_by") > 0) | pl.col("stated"),
            set_apart=(pl.col("alone") & pl.col("says") & ~pl.col("stated")).cast(pl.Int64),
        )
        .sort(PAIR)
    )


def _expected(rows: pl.DataFrame, found: FaultPairs, events: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    """Add the share of each order that the calendars of two components alone give, from pairs of different cars."""
    least = pl.col("ahead") + pl.col("behind") - pl.col("set_apart") >= parameters.follow_on_least
    asked = rows.filter(least)
    kinds = pl.concat([asked["kind"], asked["other"]]).unique().sort()
    number = pl.DataFrame({"kind": kinds, "at": np.arange(len(kinds), dtype=np.int64)})
    fit = events.filter(~pl.col("found") & ~pl.col("joining")).join(number, on="kind", how="inner")
    all_cars = followers(fit["at"].to_numpy(), fit["from_day"].to_numpy(), len(kinds), parameters.follow_on_days)
    placed = asked.join(number, on="kind").join(number.rename({"kind": "other", "at": "to"}), on="other")
    at, to = placed["at"].to_numpy(), placed["to"].to_numpy()
    other_cars = (
        placed.with_columns(after=pl.Series(all_cars[at, to]), before=pl.Series(all_cars[to, at]))
        .join(found.own.rename({"pairs": "own_after"}), on=PAIR, how="left")
        .join(found.own.select(kind="other", other="kind", own_before="pairs"), on=PAIR, how="left")
        .with_columns(pl.col("own_after", "own_before").fill_null(0))
    )
    after, before = (
        (other_cars[all_of] - other_cars[own]).cast(pl.Float64).to_numpy()
        for all_of, own in (("after", "own_after"), ("before", "own_before"))
    )
    share = null_share(after, before, parameters.follow_on_calendar_pairs)
    return rows.join(
        other_cars.select(PAIR).with_columns(expected_share=pl.Series(share, dtype=pl.Float64)), on=PAIR, how="left"
    ).sort(PAIR)


def _followed(
    rows: pl.DataFrame, found: FaultPairs, events: pl.DataFrame, beside: pl.DataFrame, parameters: Parameters
) -> pl.DataFrame:
    """Add how many failures of the first could be followed, after how many the second failed, with exact limits."""
    fit = events.filter(~pl.col("found") & ~pl.col("joining"))
    every = fit.group_by("kind").agg(events=pl.len().cast(pl.Int64), watched=pl.col("watched").sum().cast(pl.Int64))
    shared = (
        fit.join(beside, on="visit")
        .group_by(PAIR)
        .agg(apart=pl.col("watched").sum().cast(pl.Int64), renewed=pl.col("renewed").sum().cast(pl.Int64))
    )
    back = shared.join(every, on="kind").select(
        kind="other", other="kind", together=pl.col("renewed") > parameters.follow_on_together_share * pl.col("events")
    )
    joined = (
        rows.join(every, on="kind", how="left")
        .join(shared, on=PAIR, how="left")
        .join(found.followed.rename({"events": "followed"}), on=PAIR, how="left")
        .join(back, on=PAIR, how="left")
        .with_columns(pl.col("watched", "apart", "followed").fill_null(0), pl.col("together").fill_null(value=False))
        .with_columns(first_watched=pl.col("watched") - pl.col("apart"))
        .sort(PAIR)
    )
    limits = proportion(joined["followed"], joined["first_watched"], confidence=parameters.confidence)
    return joined.with_columns(limits.select(share="proportion", share_lower="lower", share_upper="upper"))


def _tested(rows: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    """Add status, p-value and adjusted p-value; declared pairs are adjusted among themselves."""
    cars = pl.col("ahead") + pl.col("behind") - pl.col("set_apart")
    status = (
        pl.when(cars < parameters.follow_on_least)
        .then(pl.lit("too few"))
        .when("together")
        .then(pl.lit("renewed together"))
        .otherwise(pl.lit("ok"))
    )
    rows = rows.with_columns(status=status)
    test = order_symmetry(rows["ahead"] - rows["set_apart"], rows["behind"], rows["expected_share"].fill_null(0.5))
    rows = rows.with_columns(p_value=pl.when(pl.col("status") == "ok").then(test["p_value"]))
    parts = []
    for part in rows.partition_by("declared", maintain_order=True):
        adjusted = adjust_p_values(part["p_value"])["adjusted_p"]
        parts.append(part.with_columns(adjusted_p=adjusted, tests=pl.lit(adjusted.count(), dtype=pl.Int64)))
    return pl.concat(parts) if parts else rows.with_columns(adjusted_p=pl.lit(None, pl.Float64), tests=pl.lit(0))


def _named(rows: pl.DataFrame, names: pl.Series, records: FollowOnRecords, parameters: Parameters) -> pl.DataFrame:
    """Return snapshot table ``follow_on``."""
    critical = records.facts.filter("safety_critical")["component"].implode()
    named = rows.with_columns(first=names.gather(rows["kind"]), then=names.gather(rows["other"]))
    told = named.with_columns(
        median_status=pl.when(pl.col("ahead") > 0).then(pl.lit("ok")).otherwise(pl.lit("no such pair")),
        window_days=pl.lit(parameters.follow_on_days),
        first_safety_critical=pl.col("first").is_in(critical),
        then_safety_critical=pl.col("then").is_in(critical),
    ).rename({"ahead": "n_first_then", "behind": "n_then_first"})
    return told.select(COLUMNS)


def _pairs(found: FaultPairs, told: pl.DataFrame, events: pl.DataFrame, names: pl.Series) -> pl.DataFrame:
    """Return snapshot table ``follow_on_pair``."""
    first, then = events[found.counted["first"]], events[found.counted["then"]]
    ends = pl.DataFrame({"then": found.counted["then"], "kind": first["kind"], "other": then["kind"]})
    said = told.filter("later").select(then="event", kind="kind", other="other", told=pl.lit(value=True))
    marks = ends.join(said, on=["then", *PAIR], how="left", maintain_order="left")["told"].fill_null(value=False)
    return pl.DataFrame(
        {
            "first": names.gather(first["kind"]),
            "then": names.gather(then["kind"]),
            "vehicle_id": first["vehicle_id"],
            "first_record": first["record"],
            "then_record": then["record"],
            "first_on": first["visit_day"],
            "then_on": then["visit_day"],
            "days": found.counted["days"],
            "told": marks,
        }
    )


def _left_out(found: FaultPairs, events: pl.DataFrame) -> pl.DataFrame:
    """Return the pairs that do not count, by reason, as rows of ``data_quality``."""
    total = int(found.fates["pairs"].sum())
    rest = found.fates.filter(pl.col("fate") != COUNTED)
    return rest.select(
        kind=pl.format("pair of faults that tells no order: {}", "fate"),
        count="pairs",
        out_of=pl.lit(total, dtype=pl.Int64),
        example_record=events["record"].gather(rest["example"]),
        says=pl.lit("left out of what fails next"),
    )


def _unknown(records: FollowOnRecords) -> pl.DataFrame:
    """Return the stated components that no record and no table names otherwise, as a row of ``data_quality``."""
    ends = records.stated["then"].unique().sort()
    unknown = ends.filter(~ends.is_in(records.facts["component"].implode()))
    says = f"that pair is not tested; write components alike: {', '.join(unknown.head(5))}"
    return finding("may_harm names a component that nothing else names", unknown.len(), ends.len(), says)
