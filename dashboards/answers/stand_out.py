"""What stands out of faults and repairs: places, returns, what fails next, checks, modifications, trends."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from dashboards import words
from dashboards.answers import checks, follow_on, held, modified, places
from dashboards.answers.said import Standing, of_fleet, place_of, series_named
from dashboards.answers.trends import change_of

if TYPE_CHECKING:
    from dashboards.data import Snapshot

LEAST_CHECKS = 2
"""A single check is no order of checks."""


def hot_places(snapshot: Snapshot) -> list[Standing]:
    """Return the places with more faults than chance gives, each once, the greatest excess first."""
    frame = snapshot.rows("fault_location")
    if frame.is_empty():
        return []
    sure = places.ready(frame).filter(pl.col("sure") & ~pl.col("wide"))
    best = sure.sort("shown", "location", descending=[True, False]).unique(
        "location", keep="first", maintain_order=True
    )
    told = []
    for row in best.iter_rows(named=True):
        who = row["label"] if row["series"] == "all" else f"{row['label']} of the {series_named(row['series'])}"
        against = "a usual place" if row["basis"] == places.AVERAGE else "the same place of the other series"
        sentence = f"{words.first_up(who)} has about {words.two(row['shown'])} times the faults of {against}."
        why = (
            f"on {words.count(row['observed'], 'visit')} of {words.count(row['vehicles'], 'car')}, "
            f"about {words.two(row['expected'])} by chance"
        )
        choices = {"series": row["series"], "basis": places.BASES.get(row["basis"], row["basis"])}
        told.append(Standing(of_fleet("ink", row["vehicles"]), sentence, why, "where", choices))
    return told


def returns(snapshot: Snapshot) -> list[Standing]:
    """Return repairs that come back more often than chance gives, one kind of each component, the surest first."""
    days = snapshot.number("return_days", held.DAYS)
    rows = held.ready(snapshot.rows("repeat_repair"), "action").filter("sure")
    told = []
    for row in rows.unique("component", keep="first", maintain_order=True).iter_rows(named=True):
        back = f"{words.whole(row['returns'])} of {words.count(row['repairs'], 'repair')} came back"
        why = f"{back}, {words.count(row['vehicles'], 'car')}"
        state, choices = of_fleet("ink", row["vehicles"]), {"component": row["component"]}
        told.append(Standing(state, held.sentence(row, days), why, "held", choices))
    return told


def follow_ons(snapshot: Snapshot) -> list[Standing]:
    """Return the components that fail after another one more often than before it."""
    rows = follow_on.ready(snapshot.rows("follow_on"))
    sure = rows.filter(pl.col("verdict") == follow_on.MORE)
    return [
        Standing("ink", follow_on.in_short(row), follow_on.followed(row), "held", {"after": row["first"]})
        for row in sure.iter_rows(named=True)
    ]


def trends(snapshot: Snapshot) -> list[Standing]:
    """Return the slots that fail more often than before, the surest first."""
    sure = snapshot.rows("failure_interval", series="all").filter(pl.col("trend") == "worsening")
    told = []
    for row in sure.sort("trend_p_value", "component", "position").iter_rows(named=True):
        who = place_of(row["component"], row["position"])
        sentence = f"{words.first_up(who)} fails more often than before."
        why = f"{words.count(row['failures'], 'failure')} on {words.count(row['vehicles'], 'car')}"
        if row.get("yearly_change") is not None:
            why += f"; each year about {change_of(row['yearly_change'])}"
        state = of_fleet("ink", row["vehicles"])
        told.append(Standing(state, sentence, why, "where", {"component": row["component"]}))
    return told


def first_checks(snapshot: Snapshot) -> list[Standing]:
    """Return where to look first for the complaint with most jobs, where its own records prefer a first check."""
    orders, found = snapshot.rows("check_order"), snapshot.rows("complaint").filter(pl.col("outcome") == "found")
    complaint, series = checks.usual(orders)
    if complaint is None or series is None:
        return []
    rows = orders.filter((pl.col("complaint") == complaint) & (pl.col("series") == series)).sort("step")
    ranked = rows.filter(~pl.col("safety_first"))
    if ranked.height < LEAST_CHECKS or ranked["tied"][0] or ranked["basis"][0] != "own":
        return []
    here = found.filter((pl.col("complaint") == complaint) & (pl.col("series") == series))
    cars = here["vehicle_id"].n_unique()
    top = ranked.row(0, named=True)
    why = (
        f"{words.count(top['own_jobs'], 'closed job')} on {words.count(cars, 'car')}; "
        f"{top['component']} comes first in {top['times_best_of_100']} of 100 plausible worlds"
    )
    offered = {
        "complaint": (complaint, snapshot.rows("complaint")["complaint"]),
        "on-series": (series, snapshot.rows("vehicle")["series"]),
    }
    choices = {name: value for name, (value, options) in offered.items() if options.n_unique() > 1}
    who = f"{words.first_up(complaint)}, {series_named(series)}"
    sentence = f"{who}: {words.lower_first(checks.sentence(rows))}"
    return [Standing(of_fleet("ink", cars), sentence, why, "look-first", choices)]


def modifications(snapshot: Snapshot) -> list[Standing]:
    """Return the modifications of which it can be told whether they helped."""
    rows = modified.first(snapshot.rows("before_after"))
    told = []
    for row in rows.filter(pl.col("verdict").is_in([*modified.IN_SHORT])).iter_rows(named=True):
        choices = {"modification": modified.name_of(row)} if rows.height > 1 else {}
        state = of_fleet("ink", row["vehicles"])
        told.append(Standing(state, modified.in_short(row), modified.why(row), "where", choices, row["component"]))
    return told
