"""How long a part lasts, in words, from its life model and what was asked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analytics.counting import watched
from dashboards import words
from dashboards.answers.said import Row, Said, series_named

if TYPE_CHECKING:
    from datetime import date

    from dashboards.words import State

NO_FIGURE = ("too few", "no finite estimate")
OWN_FAILURES = 5
MOST_UNTOLD = 0.20
LEAST_USED = 0.60
FAR = {"age": 50 * words.DAYS_PER_YEAR, "distance": 1_000_000.0}
"""Lives longer than this are a law's arithmetic, not experience: no figure is said."""

GROUPINGS = {
    "component": "all together",
    "variant": "by design",
    "part_origin": "by origin",
    "series": "by series",
    "position": "by slot",
    "action": "by repair",
}
"""How pages call the groupings."""


def state_of(model: Row, needed: int = OWN_FAILURES) -> State:
    """Return how a life is known (rule 34): a few failures without a family give a limit only."""
    if model["status"] in NO_FIGURE:
        return "blank"
    if model["basis"] == "family":
        return "pencil"
    if model["basis"] == "bound only" or model["failures"] < needed:
        return "one-sided"
    return "ink"


def noun(grouping: str, level: str) -> str:
    """Name the parts a sentence is about: of 20 ..."""
    named = {
        "variant": "parts of unknown design" if level == "unknown" else f"of {level}",
        "series": f"on {series_named(level)}",
        "position": f"at {level}",
        "part_origin": f"parts of origin “{level}”",
        "action": f"parts, {level},",
    }
    return "such parts" if level == "all" else named.get(grouping, f"of {level}")


def evidence(model: Row, state: State, until: date, cars: int = 0) -> str:
    """Write the evidence line of a life model; `cars`: those with such a part, 0 where not counted."""
    time = model["unit_time"]
    exposure = (
        watched(time / words.DAYS_PER_YEAR, "part-years")
        if model["scale"] == "age"
        else f"{words.whole(float(f'{time:.2g}'))} part-km"
    )
    facts = [f"**{words.count(model['failures'], 'failure')}**", words.count(model["units"], "part")]
    facts += [*([words.count(cars, "car")] if cars else []), exposure]
    return words.evidence(state, facts, until, words.BORROWED if state == "pencil" else "")


def life_answer(model: Row, here: Row | None, until: date, needed: int = OWN_FAILURES, cars: int = 0) -> Said:
    """Say how long it lasts.

    Parameters
    ----------
    model
        Row of ``life_model``.
    here
        Row of ``life_survival`` at the asked age, None where there is none.
    until
        The snapshot's day.
    needed
        Failures needed for a firm figure.
    cars
        Cars with such a part, 0 where not counted.
    """
    state = state_of(model, needed)
    line = evidence(model, state, until, cars)
    if state == "blank" or here is None or (state != "one-sided" and here["survival"] is None):
        return Said("blank", _blank(model, needed), evidence(model, "blank", until, cars), notes(model, needed))
    who, when = noun(model["grouping"], model["level"]), words.reach(here["time"], model["scale"])
    if state == "one-sided":
        return _one_sided(model, here, line, (who, when), needed)
    limits = None if here["lower"] is None or here["upper"] is None else (here["lower"], here["upper"])
    sentence = words.fails_within(here["survival"], limits, when, who)
    return Said(state, sentence, line, notes(model, needed))


def _blank(model: Row, needed: int) -> str:
    if model["failures"] == 0:
        return _no_failure(model) if (model["scale"] == "age") else "No failure seen so far on this scale."
    return words.too_little(model["failures"], model["units"], needed)


def _no_failure(model: Row) -> str:
    """Say that none was seen, or only that none counts where the records tell of some."""
    verb = "counted" if _uncounted(model) else "seen"
    return words.no_failure(model["unit_time"] / words.DAYS_PER_YEAR, model["rate_upper"], verb)


def _uncounted(model: Row) -> bool:
    few = model["events_seen"] and model["events_used"] / model["events_seen"] < LEAST_USED
    return bool(model["failures"] == 0 and model["events_seen"] and (few or model["grouping"] == "component"))


def _one_sided(model: Row, here: Row, line: str, about: tuple[str, str], needed: int) -> Said:
    who, when = about
    least = None if here["lower"] is None else words.at_least(here["lower"], when, who)
    if model["failures"] == 0 and model["scale"] == "age":
        return Said("one-sided", _no_failure(model), line, tuple(filter(None, (least, *notes(model, needed)))))
    return Said("one-sided", least or _blank(model, needed), line, notes(model, needed))


def notes(model: Row, needed: int = OWN_FAILURES) -> tuple[str, ...]:
    """Return what must be known beside the answer; never a life of a safety-critical part (rule 39)."""
    said = [_family(model), _few(model, needed), _half(model, needed), _used(model)]
    return tuple(note for note in said if note)


def _family(model: Row) -> str:
    if model["basis"] == "family" and model["family"]:
        return words.borrowed(
            model["failures"], model["family"], model["family_members"] or 0, model["family_failures"] or 0
        )
    if model["status"] == "unlike family":
        return "It does not look like its family, so nothing is borrowed."
    return ""


def _few(model: Row, needed: int) -> str:
    few = 0 < model["failures"] < needed and model["basis"] != "family" and model["status"] not in NO_FIGURE
    return words.of_needed(model["failures"], needed) if few else ""


def _half(model: Row, needed: int) -> str:
    if model["safety_critical"] or model["status"] in NO_FIGURE or model["life50_lower"] is None:
        return ""
    scale = model["scale"]
    if model["life50"] is None or model["life50_upper"] is None or state_of(model, needed) == "one-sided":
        low = words.reach(model["life50_lower"], scale)
        return f"Half of them last at least {low}; how much longer, the records do not say."
    if too_far(model):
        return words.outlasts()
    limits = words.span(model["life50_lower"], model["life50_upper"], scale)
    return f"Half of them last about {words.reach(model['life50'], scale)} ({limits})."


def too_far(model: Row) -> bool:
    """Say whether half of the parts would last longer than any record can tell."""
    return bool(model["life50"] is not None and model["life50"] > FAR[model["scale"]])


def half_lasts(middle: float | None, least: float | None, scale: str) -> str:
    """Say in a table's cell how long half of the parts last: what a law makes of so long a life is no figure.

    >>> half_lasts(2557, 2000, "age"), half_lasts(None, 2557, "age"), half_lasts(200_000, 90_000, "age")
    ('7 years', 'at least 7 years', 'more than 50 years')
    """
    if middle is None:
        return "too little to say" if least is None else f"at least {words.reach(least, scale)}"
    if middle > FAR[scale]:
        return f"more than {words.reach(FAR[scale], scale)}"
    return words.reach(middle, scale)


def _used(model: Row) -> str:
    seen, used = model["events_seen"], model["events_used"]
    if _uncounted(model):
        them = "" if seen == 1 else "all "
        return (
            f"The records tell of {words.count(seen, 'failure')} of this component, {them}outside the time counted "
            "here: for instance at a car's first visit, at its last, or of a part already known to be faulty."
        )
    if seen and used / seen < LEAST_USED:
        return (
            f"Only {used} of {words.count_figure(seen, 'failure')} {'lies' if used == 1 else 'lie'} "
            "within the time the cars were surely watched; "
            "the others are left out, and the figures lean on the rest."
        )
    return ""


def untold(recorded: int, events: int) -> str:
    """Warn where many failures tell no reason (rule 8)."""
    missing = events - recorded
    if events and missing / events > MOST_UNTOLD:
        tells = (
            "tells no reason and was read as a failure" if missing == 1 else "tell no reason and were read as failures"
        )
        return f"{missing} of {words.count_figure(events, 'record')} behind this {tells}."
    return ""
