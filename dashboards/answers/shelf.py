"""What goes on the shelf, in words: looked up in the demand distribution, never computed anew."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import polars as pl

from dashboards import words
from dashboards.answers.said import Said

if TYPE_CHECKING:
    from datetime import date

    from dashboards.answers.said import Row
    from dashboards.words import State

OUTLOOKS = 20
FIRM_REPAIRS = 5
RISKS = {"4 of 20": 0.80, "2 of 20": 0.90, "1 of 20": 0.95}
"""How often the shelf may run out, and the service level that means."""


def title_of(row: Row) -> str:
    """Name a group in a list and in the address."""
    return f"{row['components']} · {row['part_no']}"


def risk_of(service_level: float) -> str:
    """Return the choice that stands for a service level."""
    return min(RISKS, key=lambda name: abs(RISKS[name] - service_level))


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
    """Return what can be counted on: shelf and orders due, less what is reserved; None without a count."""
    if row["on_hand"] is None:
        return None
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
    short = enough(mass, RISKS[risk]) - (held(row) or 0.0)
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
    facts = [f"**{words.count(row['repairs'], 'repair')}**", f"{words.two(row['car_years'])} car-years"]
    if sold:
        facts.append(f"{words.count(sold, 'part')} sold or asked for")
    line = words.evidence(state, facts, until)
    notes = tuple(filter(None, (row["reason"], look_alikes(row["looks_like"]))))
    can = held(row)
    if can is None:
        most = enough(need.with_columns(quantity="need", probability=pl.lit(1.0)), 0.9)
        return Said(state, words.needs(most, row["horizon_days"]), line, notes)
    short, left = (int((need["need"] > can + extra).sum()) for extra in (0, order))
    said = words.runs_out(short, words.stock(row["on_hand"], row["on_order"] or 0, row["reserved"] or 0), order, left)
    return Said(state, said, line, notes)


def look_alikes(listed: str | None) -> str:
    """Warn of parts that look the same."""
    if not listed:
        return ""
    numbers = ", ".join(part.strip() for part in listed.split(";") if part.strip())
    return f"Looks alike and does not fit: {numbers}."


def refused(row: Row, until: date) -> Said:
    """Say why nothing can be forecast."""
    facts = [words.count(row["repairs"], "repair"), f"{words.two(row['car_years'])} car-years"]
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
