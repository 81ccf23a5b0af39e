"""What goes on the shelf, in words: looked up in the demand distribution, never computed anew."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import polars as pl

from analytics.counting import watched
from dashboards import words
from dashboards.answers.ageing import how_foretold, keeps
from dashboards.answers.said import Said

if TYPE_CHECKING:
    from datetime import date

    from dashboards.answers.said import Row
    from dashboards.words import State

OUTLOOKS = 20
FIRM_REPAIRS = 5
RISKS = {"4 of 20": 0.80, "2 of 20": 0.90, "1 of 20": 0.95}
"""How often the shelf may run out, and the service level that means."""

HIGHEST_LEVEL = 0.999999
"""No forecast tells a higher service level; the snapshot's reason says so where one is asked for."""

UNKNOWN = "not recorded"
"""Component of a part number that is known from sales alone."""


def title_of(row: Row) -> str:
    """Name a group in a list and in the address."""
    return row["part_no"] if row["components"] == UNKNOWN else f"{row['components']} · {row['part_no']}"


def risk_of(service_level: float) -> str:
    """Return how often the shelf may run out at a service level: 2 of 20, 1 of 100."""
    return words.part_of(1 - min(service_level, HIGHEST_LEVEL))


def risks(service_level: float) -> dict[str, float]:
    """Return the choices and their service levels, the run's own among them, the boldest first."""
    every = RISKS | {risk_of(service_level): min(service_level, HIGHEST_LEVEL)}
    return dict(sorted(every.items(), key=lambda named: named[1]))


def at_horizon(demand: pl.DataFrame, days: float) -> pl.DataFrame:
    """Return the distribution over the horizon nearest to so many days."""
    if demand.is_empty():
        return demand
    near = min(demand["horizon_days"].unique(), key=lambda h: abs(h - days))
    return demand.filter(pl.col("horizon_days") == near).sort("quantity")


def outlooks(mass: pl.DataFrame) -> pl.DataFrame:
    """Return twenty equally likely outlooks: the middle of each twentieth of the distribution."""
    below = mass["probability"].cum_sum().to_list()
    quantities = mass["quantity"].to_list()
    total = below[-1]
    need = []
    for k in range(OUTLOOKS):
        target = (k + 0.5) / OUTLOOKS * total
        need.append(next(q for q, p in zip(quantities, below, strict=True) if p >= target - 1e-12))
    return pl.DataFrame({"need": need}, schema={"need": pl.Int64})


def held(row: Row) -> float | None:
    """Return what can be counted on: shelf and orders due, less what is reserved and ages; None without a count."""
    if row["on_hand"] is None:
        return None
    if row.get("available") is not None:
        return max(0.0, float(row["available"]))
    return max(0.0, float(row["on_hand"]) + (row["on_order"] or 0.0) - (row["reserved"] or 0.0))


def enough(mass: pl.DataFrame, level: float) -> int:
    """Return the smallest quantity that is enough with this chance."""
    wanted = level * float(mass["probability"].sum()) - 1e-12
    found = mass.filter(pl.col("probability").cum_sum() >= wanted)
    return int(found["quantity"][0]) if found.height else int(mass["quantity"][-1])


def proposal(row: Row, mass: pl.DataFrame, risk: str) -> int:
    """Return how many to order: the snapshot's own figure at its own service level, else whole packs."""
    if risk == risk_of(row["service_level"]) and row["order_quantity"] is not None:
        return int(row["order_quantity"])
    pack = row["pack_size"] or 1
    short = enough(mass, risks(row["service_level"])[risk]) - (held(row) or 0.0)
    return int(math.ceil(short / pack) * pack) if short > 0 else 0


def shelf_answer(row: Row, need: pl.DataFrame, order: int, until: date) -> Said:
    """Say what to order and what it changes.

    Parameters
    ----------
    row
        Row of ``reorder``.
    need
        As from `outlooks`.
    order
        Parts ordered.
    until
        The snapshot's day.
    """
    sold = row.get("sales") or 0
    state: State = "ink" if row["repairs"] + sold >= FIRM_REPAIRS else "pencil"
    line = words.evidence(state, facts_of(row), until)
    beside = (look_alikes(row["looks_like"]), keeps(row, until), how_foretold(row))
    notes = (row["reason"], *filter(None, beside))
    can = held(row)
    if can is None:
        level, most = min(row["service_level"], HIGHEST_LEVEL), row["reorder_point"]
        if most is None:
            most = enough(need.with_columns(quantity="need", probability=pl.lit(1.0)), level)
        return Said(state, words.needs(most, row["horizon_days"], level), line, notes)
    short, left = (int((need["need"] > can + extra).sum()) for extra in (0, order))
    said = words.runs_out(short, words.stock(row["on_hand"], row["on_order"] or 0, row["reserved"] or 0), order, left)
    return Said(state, said, line, notes)


def facts_of(row: Row, mark: str = "**") -> list[str]:
    """Count what a forecast rests on: repairs and the time of the cars, sales, or both."""
    sold, facts = row.get("sales") or 0, []
    if row["repairs"] or not sold:
        facts = [f"{mark}{words.count(row['repairs'], 'repair')}{mark}", watched(row["car_years"], "car-years")]
    if sold:
        told = f"{words.count(sold, 'part')} sold or asked for"
        facts.append(told if facts else f"{mark}{told}{mark} in {in_years(row)}")
    return facts


def in_years(row: Row) -> str:
    """Say how long sales were counted."""
    return words.reach((row["sales_years"] or 0.0) * words.DAYS_PER_YEAR, "age")


def look_alikes(listed: str | None) -> str:
    """Warn of parts that look the same."""
    if not listed:
        return ""
    numbers = ", ".join(part.strip() for part in listed.split(";") if part.strip())
    return f"Looks alike and does not fit: {numbers}."


def refused(row: Row, until: date) -> Said:
    """Say why nothing can be forecast."""
    facts = [words.count(row["repairs"], "repair"), watched(row["car_years"], "car-years")]
    return Said("blank", row["reason"], words.evidence("blank", facts, until))


def used_lately(records: pl.DataFrame, until: date) -> pl.DataFrame:
    """Return the parts used in the last twelve months, most used first."""
    recent = records.filter(
        pl.col("part_no").is_not_null() & (pl.col("closed_on") > pl.lit(until).dt.offset_by("-12mo"))
    )
    return (
        recent.group_by("part_no", "component")
        .agg(used=pl.col("quantity").fill_null(1).sum(), jobs=pl.col("record_id").n_unique())
        .sort("used", "part_no", descending=[True, False])
    )


def sold_lately(groups: pl.DataFrame) -> pl.DataFrame:
    """Return the parts sold or asked for over the counter in the time that sales are counted, most first."""
    sold = groups.filter(pl.col("sales").fill_null(0) > 0).sort("sales", "part_no", descending=[True, False])
    served = pl.when(pl.col("components") != UNKNOWN).then("components")
    monthly = (pl.col("sales") / (12 * pl.col("sales_years"))).round_sig_figs(2).alias("a month")
    shown = sold.select("part_no", served.alias("serves"), pl.col("sales").alias("sold or asked for"), monthly)
    return shown.drop(["serves"] if shown["serves"].null_count() == shown.height else [])
