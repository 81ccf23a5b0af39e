"""What stands out: standing sentences from every table, ordered by what can be acted on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.counting import watched
from analytics.safety import critical_by_name
from dashboards import words
from dashboards.answers import curves, designs, life, parts, shelf, stand_out
from dashboards.answers.said import Row, Standing

if TYPE_CHECKING:
    from dashboards.data import Snapshot

MOST, MOST_LEFT = 8, 5
LEAST = 5
GROUP = ("component", "grouping", "level", "scale")
LIFE_KINDS = (("ink",), ("pencil",), ("one-sided", "blank"))


def standing(snapshot: Snapshot) -> list[Standing]:
    """Return at most eight sentences, what can be acted on first; of one kind two only where there is room."""
    if snapshot.rows("record").is_empty():
        return _orders(snapshot) or _sold(snapshot)
    kinds = [
        _orders(snapshot),
        _found_and_left(snapshot),
        stand_out.hot_places(snapshot),
        stand_out.returns(snapshot),
        stand_out.follow_ons(snapshot),
        stand_out.first_checks(snapshot),
        helped := stand_out.modifications(snapshot),
        compared := _designs(snapshot, [line.component for line in helped]),
        stand_out.trends(snapshot),
        *_lives(snapshot, [line.component for line in (*helped, *compared)]),
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
    critical = left["component"].is_in(_critical(snapshot, left["component"].unique().to_list()))
    ranked = left.with_columns(safe=~critical).sort("safe", "vehicle_id", "component", "position")
    places_left = words.count(left.height, "fault was found and left", "faults were found and left")
    sentence = f"{words.first_up(places_left)} on {words.count(left['vehicle_id'].n_unique(), 'car')}"
    if critical.any():
        some = "" if left.height == 1 else f"{words.count(int(critical.sum()), 'of them', 'of them')} "
        sentence += f", {some}critical for safety"
    named = [f"{row['vehicle_id']} ({row['component']})" for row in ranked.head(MOST_LEFT).iter_rows(named=True)]
    why = ", ".join(named) + (" and others" if left.height > MOST_LEFT else "")
    choices = {"car": ranked["vehicle_id"][0]} if snapshot.rows("vehicle").height > 1 else {}
    return [Standing("ink", f"{sentence}.", why, "one-car", choices)]


def _critical(snapshot: Snapshot, components: list[str]) -> list[str]:
    """Return those that are critical for safety; one never watched goes by its name."""
    models = snapshot.rows("life_model")
    stated = models.filter("safety_critical")["component"].unique().to_list()
    known = models["component"].unique().to_list()
    return [name for name in components if name in stated or (name not in known and critical_by_name(name))]


def _designs(snapshot: Snapshot, told_already: list[str]) -> list[Standing]:
    """Return designs whose curves lie apart, the widest difference first; none of a component told already."""
    needed = snapshot.number("own_failures", life.OWN_FAILURES)
    models = snapshot.rows("life_model", scale="age").filter(
        ~pl.col("safety_critical") & ~pl.col("component").is_in(told_already)
    )
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
    return Standing("ink", sentence, why, "lasting", {"component": two[0]["component"]}, two[0]["component"])


def _worth(named: tuple[str, float]) -> float:
    return -named[1]


def _lives(snapshot: Snapshot, compared: list[str]) -> list[list[Standing]]:
    """Return components in ink, in pencil, and too thin; never a life of a safety-critical part.

    Where two designs differ, a life of both together would be of neither.
    """
    needed = snapshot.number("own_failures", life.OWN_FAILURES)
    models, wears_by = snapshot.rows("life_model"), snapshot.rows("scale_choice")
    rows = [row for row in _main_lives(models, wears_by) if row["component"] not in compared]
    lines = [[line for row in rows if (line := _life(row, needed)) and line.state in kind] for kind in LIFE_KINDS]
    return [lines[0], lines[1], lines[2]]


def _main_lives(models: pl.DataFrame, wears_by: pl.DataFrame) -> list[Row]:
    """Return the groups of rule 33, by what wears them, else by age where there is one, most failures first."""
    chosen = models.filter(~pl.col("safety_critical") & (pl.col("level") != "unknown"))
    usual = chosen.filter(pl.col("default_grouping"))
    rest = chosen.filter((pl.col("grouping") == "component") & ~pl.col("component").is_in(usual["component"].to_list()))
    far = wears_by.filter(pl.col("verdict") == "distance")["component"].to_list()
    other = pl.col("component").is_in(far) != (pl.col("scale") == "distance")
    both = pl.concat([usual, rest]).sort("component", "grouping", "level", other, "scale")
    by_one = both.unique(["component", "grouping", "level"], keep="first", maintain_order=True)
    ranked = by_one.sort("failures", "unit_time", "component", "level", descending=[True, True, False, False])
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
