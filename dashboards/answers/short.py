"""What stands out: standing sentences from every table, ordered by what can be acted on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.counting import watched
from dashboards import words
from dashboards.answers import curves, designs, follow_on, held, life, parts, places, shelf
from dashboards.answers.said import Row, Standing, of_fleet, place_of

if TYPE_CHECKING:
    from dashboards.data import Snapshot

MOST = 7
LEAST = 5
GROUP = ("component", "grouping", "level", "scale")
LIFE_KINDS = (("ink",), ("pencil",), ("one-sided", "blank"))


def standing(snapshot: Snapshot) -> list[Standing]:
    """Return at most seven sentences, what can be acted on first; of one kind two only where there is room."""
    if snapshot.rows("record").is_empty():
        return _orders(snapshot) or _sold(snapshot)
    kinds = [
        _orders(snapshot),
        _found_and_left(snapshot),
        _hot_places(snapshot),
        _returns(snapshot),
        _follow_ons(snapshot),
        compared := _designs(snapshot),
        _trends(snapshot),
        *_lives(snapshot, [line.choices["component"] for line in compared]),
    ]
    thin = not any(kinds[:-2])
    room = MOST - sum(bool(kind) for kind in kinds)
    told = []
    for kind in kinds:
        extra = min(max(room, 0), len(kind) - 1, 2 if thin else 1) if kind else 0
        room -= extra
        told += kind[: 1 + extra]
    return told[:MOST]


def _orders(snapshot: Snapshot) -> list[Standing]:
    ranked = parts.order_first(snapshot.rows("reorder"), snapshot.rows("demand"))
    rows = ranked.filter((pl.col("order_quantity").fill_null(0) > 0) & pl.col("short").is_not_null())
    told = []
    for row in rows.head(4).iter_rows(named=True):
        what = f"{row['order_quantity']} of {_named(row)}"
        sentence = f"Order {what}: in {row['short']} of 20 outlooks the shelf runs out before the next delivery."
        told.append(_on_shelf(row, sentence))
    return told


def _sold(snapshot: Snapshot) -> list[Standing]:
    """Point to the shelf where no job is known and part sales alone speak."""
    sold = snapshot.rows("reorder").filter(pl.col("use_per_month").fill_null(0) > 0)
    rows = sold.sort("use_per_month", "part_no", descending=[True, False]).head(2)
    told = []
    for row in rows.iter_rows(named=True):
        monthly = row["use_per_month"]
        rate = f"{words.two(monthly)} in a month" if monthly >= 1 else f"{words.two(12 * monthly)} in a year"
        sentence = f"{words.first_up(_named(row))} is asked for: about {rate}."
        told.append(_on_shelf(row, sentence))
    return told


def _named(row: Row) -> str:
    return row["part_no"] if row["components"] == shelf.UNKNOWN else f"{row['part_no']} ({row['components']})"


def _on_shelf(row: Row, sentence: str) -> Standing:
    firm = row["repairs"] + (row["sales"] or 0) >= shelf.FIRM_REPAIRS
    why = ", ".join(shelf.facts_of(row, mark=""))
    return Standing("ink" if firm else "pencil", sentence, why, "shelf", {"part": shelf.title_of(row)})


def _found_and_left(snapshot: Snapshot) -> list[Standing]:
    left = snapshot.rows("unit_now").filter(pl.col("state") == "fault found and left")
    if left.is_empty():
        return []
    cars = left["vehicle_id"].unique().sort()
    places_left = words.count(left.height, "fault was found and left", "faults were found and left")
    sentence = f"{words.first_up(places_left)} on {words.count(len(cars), 'car')}."
    why = ", ".join(cars.head(5)) + (" and others" if len(cars) > 5 else "")
    return [Standing("ink", sentence, why, "one-car", {"car": cars[0]})]


def _hot_places(snapshot: Snapshot) -> list[Standing]:
    frame = snapshot.rows("fault_location")
    if frame.is_empty():
        return []
    sure = places.ready(frame).filter(pl.col("sure") & ~pl.col("wide"))
    best = sure.sort("shown", "location", descending=[True, False]).unique(
        "location", keep="first", maintain_order=True
    )
    told = []
    for row in best.iter_rows(named=True):
        who = row["label"] if row["series"] == "all" else f"{row['label']} of the {row['series']}"
        sentence = (
            f"{words.first_up(who)} fails about {words.two(row['shown'])} times as often as chance would have it."
        )
        why = (
            f"{words.count(row['observed'], 'fault')} on {words.count(row['vehicles'], 'car')}, "
            f"about {words.two(row['expected'])} by chance"
        )
        choices = {"series": row["series"], "basis": places.BASES.get(row["basis"], row["basis"])}
        told.append(Standing(of_fleet("ink", _cars(snapshot, row["series"])), sentence, why, "where", choices))
    return told


def _cars(snapshot: Snapshot, series: str) -> int:
    return (snapshot.rows("vehicle") if series == "all" else snapshot.rows("vehicle", series=series)).height


def _returns(snapshot: Snapshot) -> list[Standing]:
    """Return repairs that come back more often than chance gives, one kind of each component, the surest first."""
    days = snapshot.number("return_days", held.DAYS)
    rows = held.ready(snapshot.rows("repeat_repair"), "action").filter("sure")
    told = []
    for row in rows.unique("component", keep="first", maintain_order=True).iter_rows(named=True):
        why = f"{words.whole(row['returns'])} of {words.count(row['repairs'], 'repair')} came back"
        told.append(Standing("ink", held.sentence(row, days), why, "held", {"component": row["component"]}))
    return told


def _follow_ons(snapshot: Snapshot) -> list[Standing]:
    """Return the components that fail after another one more often than before it."""
    rows = follow_on.ready(snapshot.rows("follow_on"))
    sure = rows.filter(pl.col("verdict") == follow_on.MORE)
    return [
        Standing("ink", follow_on.in_short(row), follow_on.followed(row), "held", {"after": row["first"]})
        for row in sure.iter_rows(named=True)
    ]


def _trends(snapshot: Snapshot) -> list[Standing]:
    sure = snapshot.rows("failure_interval", series="all").filter(pl.col("trend") == "worsening")
    told = []
    for row in sure.sort("trend_p_value", "component", "position").iter_rows(named=True):
        who = place_of(row["component"], row["position"])
        sentence = f"{words.first_up(who)} fails more often than before."
        why = f"{words.count(row['failures'], 'failure')} on {words.count(row['vehicles'], 'car')}"
        state = of_fleet("ink", row["vehicles"])
        told.append(Standing(state, sentence, why, "where", {"component": row["component"]}))
    return told


def _designs(snapshot: Snapshot) -> list[Standing]:
    """Return designs whose curves lie apart, the widest difference first."""
    needed = snapshot.number("own_failures", life.OWN_FAILURES)
    models = snapshot.rows("life_model", scale="age").filter(~pl.col("safety_critical"))
    told = []
    for of_one in models.partition_by("component", maintain_order=True):
        two = designs.pair(of_one, needed)
        found = designs.widest(*(_watched_law(snapshot, row) for row in two)) if two else None
        if found:
            told.append((abs(found[0]["survival"] - found[1]["survival"]), _design(two, found)))
    return [line for _, line in sorted(told, key=lambda pair: -pair[0])]


def _watched_law(snapshot: Snapshot, model: Row) -> pl.DataFrame:
    """Return a design's curve as far as enough of its parts were watched."""
    survival = snapshot.rows("life_survival", **{name: model[name] for name in GROUP})
    spells = snapshot.rows("spell", component=model["component"], scale=model["scale"])
    own = curves.of_group(spells, spells.head(0), model["grouping"], model["level"])
    firm = curves.firm_to(own, survival, snapshot.number("risk_set_least", LEAST))
    return survival.filter(pl.col("time") <= firm).select("time", "survival", "lower", "upper")


def _design(two: list[Row], at: tuple[Row, Row]) -> Standing:
    better, worse = sorted(((row["level"], here["survival"]) for row, here in zip(two, at, strict=True)), key=_worth)
    when = words.reach(at[0]["time"], "age")
    sentence = f"{words.first_up(two[0]['component'])}: {words.lower_first(words.still_work(when, better, worse))}"
    failures = " and ".join(words.whole(row["failures"]) for row in two)
    why = f"{failures} failures among {words.count(sum(row['units'] for row in two), 'part')}"
    return Standing("ink", sentence, why, "lasting", {"component": two[0]["component"]})


def _worth(named: tuple[str, float]) -> float:
    return -named[1]


def _lives(snapshot: Snapshot, compared: list[str]) -> list[list[Standing]]:
    """Return components in ink, in pencil, and too thin; never a life of a safety-critical part.

    Where two designs differ, a life of both together would be of neither.
    """
    needed = snapshot.number("own_failures", life.OWN_FAILURES)
    rows = [row for row in _main_lives(snapshot.rows("life_model")) if row["component"] not in compared]
    lines = [[line for row in rows if (line := _life(row, needed)) and line.state in kind] for kind in LIFE_KINDS]
    return [lines[0], lines[1], lines[2]]


def _main_lives(models: pl.DataFrame) -> list[Row]:
    """Return the groups that rule 33 chooses, by age where there is one, most failures first."""
    chosen = models.filter(~pl.col("safety_critical") & (pl.col("level") != "unknown"))
    usual = chosen.filter(pl.col("default_grouping"))
    rest = chosen.filter((pl.col("grouping") == "component") & ~pl.col("component").is_in(usual["component"].to_list()))
    both = pl.concat([usual, rest]).sort("component", "grouping", "level", "scale")
    by_age = both.unique(["component", "grouping", "level"], keep="first", maintain_order=True)  # age before distance
    ranked = by_age.sort("failures", "unit_time", "component", "level", descending=[True, True, False, False])
    return list(ranked.iter_rows(named=True))


def _life(row: Row, needed: int) -> Standing | None:
    state = life.state_of(row, needed)
    name = words.first_up(row["component"] if row["level"] == "all" else f"{row['component']}, {row['level']}")
    choices = {"component": row["component"]}
    if row["level"] != "all":
        choices |= {"grouping": life.GROUPINGS[row["grouping"]], "level": row["level"]}
    why = f"{words.count(row['failures'], 'failure')} among {words.count(row['units'], 'part')}"
    if state in ("ink", "pencil"):
        if None in (row["life50"], row["life50_lower"], row["life50_upper"]) or life.too_far(row):
            return None
        middle = words.reach(row["life50"], row["scale"])
        limits = words.span(row["life50_lower"], row["life50_upper"], row["scale"])
        if state == "pencil":
            why += f", {words.count(row['family_failures'] or 0, 'failure')} in the family it borrows from"
        return Standing(state, f"{name}: half of them last about {middle} ({limits}).", why, "lasting", choices)
    if row["failures"]:
        why += f"; {words.of_needed(row['failures'], needed)}"
    elif row["scale"] == "age":
        years, rate = watched(row["unit_time"] / words.DAYS_PER_YEAR, "part-years"), row["rate_upper"]
        limit = f"; up to {words.two(rate)} a year in 100 is still possible" if rate is not None else ""
        why = f"No failure in {years}{limit}"
    return Standing(state, f"{name}: too little to say how long it lasts.", why, "lasting", choices)


def state_of(snapshot: Snapshot, jobs: int) -> words.State:
    """Return how it is known that nothing stands out: in ink only where some component has failures enough for it."""
    if not jobs:
        return "blank"
    needed = snapshot.number("own_failures", life.OWN_FAILURES)
    firm = snapshot.rows("life_model").filter(pl.col("failures") >= needed)
    return "ink" if firm.height else "pencil"


def nothing(jobs: int, cars: int) -> str:
    """Say that nothing stands out, which is a result too."""
    if not jobs:
        return "No job is known yet, so nothing can stand out."
    return (
        f"Nothing stands out. That is a result: {words.count(jobs, 'job')} on {words.count(cars, 'car')}, "
        "and no place, part or repair differs from chance by more than we could notice."
    )


def load(parts_known: int) -> str:
    """Say, where no job is known, what is shown already and what to load for the other pages."""
    known = (
        f"{words.first_up(words.count(parts_known, 'part is', 'parts are'))} known: see the page On the shelf. "
        if parts_known
        else ""
    )
    return f"{known}For lives, places and cars, load vehicles and repairs: one row per line of a closed job."


def cannot_tell(quality: pl.DataFrame) -> list[tuple[str, str]]:
    """Return what the records cannot tell: a count and a sentence each, the largest shares first."""
    told = []
    rows = quality.filter(pl.col("count") > 0).sort(
        pl.col("share").fill_null(0.0), "count", "kind", descending=[True, True, False]
    )
    for row in rows.iter_rows(named=True):
        share = "" if row["share"] is None else f" ({words.of_hundred(row['share'])})"
        told.append((words.whole(row["count"]) + share, f"{row['kind']}: {row['says']}"))
    return told
