"""Every sentence a page may say: pure text in, text out; numbers are rounded here and nowhere else."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

State = Literal["ink", "pencil", "one-sided", "blank"]

STATES: dict[State, tuple[str, str, str]] = {
    "ink": ("ink_pen", "in ink", "from these records alone"),
    "pencil": ("edit", "in pencil", "few records stand behind it"),
    "one-sided": ("start", "one-sided", "only a limit is known"),
    "blank": ("select", "left blank", "too little to say"),
}
"""Symbol, word and meaning of the four states a number can be in."""

BORROWED, FEW_CARS = "borrowed from its family", "few cars stand behind it"
"""Meanings of the pencil where it is not a part's own thin figure."""

BETWEEN = "  ·  "
OUT_OF = 20
BASES = (20, 100, 1000, 10_000, 100_000, 1_000_000)
DAYS_PER_YEAR = 365.25
THIN_SPACE = "\u202f"
COUNTS = ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"]
MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]


def plain(text: str) -> str:
    r"""Return the text so that a page shows it as written, whatever signs a name holds.

    >>> plain("5*[x]")
    '5\\*\\[x\\]'
    """
    return re.sub(r"([\\`*_{}\[\]<>#$~|:])", r"\\\1", text)


def unbroken(text: str) -> str:
    """Keep a number and its unit on one line."""
    return re.sub(r"(\d) (years?|months?|days?|km|of)\b", "\\1\u00a0\\2", text)


def two(x: float) -> str:
    """Round to two significant digits, without exponent, with a thin space from 10 000.

    >>> two(0.0345), two(9.96), two(163)
    ('0.035', '10', '160')
    """
    if x == 0:
        return "0"
    rounded = round(x, 1 - math.floor(math.log10(abs(x))))
    digits = max(0, 1 - math.floor(math.log10(abs(rounded))))
    return f"{rounded:,.{digits}f}".replace(",", THIN_SPACE if abs(rounded) >= 10_000 else "")


def whole(n: float) -> str:
    """Write a whole number, with a thin space from 10 000."""
    return f"{round(n):,}".replace(",", THIN_SPACE if abs(n) >= 10_000 else "")


def count(n: int, noun: str, plural: str | None = None) -> str:
    """Count in words up to twelve.

    >>> count(1, "failure"), count(14, "failure")
    ('one failure', '14 failures')
    """
    number = COUNTS[n] if 0 <= n < len(COUNTS) else whole(n)
    return f"{number} {noun if n == 1 else plural or noun + 's'}"


def first_up(text: str) -> str:
    """Begin a sentence with this text."""
    return text[:1].upper() + text[1:]


def lower_first(text: str) -> str:
    """Go on with this text after a colon."""
    return text[:1].lower() + text[1:]


def day(on: date) -> str:
    """Write a day for a sentence: 24 Nov 2026."""
    return f"{on.day} {MONTHS[on.month - 1]} {on.year}"


def reach(time: float, scale: str) -> str:
    """Say how far a part has come: 7 years, 6 months, 70 000 km.

    >>> reach(2557, "age"), reach(183, "age")
    ('7 years', '6 months')
    """
    if scale == "distance":
        return f"{whole(float(f'{time:.2g}'))} km"
    if time < 61:
        return count_figure(max(1, round(time)), "day")
    years = time / DAYS_PER_YEAR
    months = round(years * 12)
    if months < 12:
        return count_figure(months, "month")
    if years >= 100:
        return f"{two(years)} years"
    near = round(years) if abs(years - round(years)) < 0.05 or years >= 10 else round(years, 1)
    return count_figure(near, "year")


def span(lower: float, upper: float, scale: str) -> str:
    """State an interval of lives, the unit once where both have the same.

    >>> span(2557, 3653, "age"), span(200, 3653, "age")
    ('could be 7 to 10 years', 'could be 7 months to 10 years')
    """
    low, high = reach(lower, scale), reach(upper, scale)
    number, unit = low.rsplit(" ", 1)
    same = high.rsplit(" ", 1)[1].startswith(unit.rstrip("s"))
    if low == high:
        return f"{high} within rounding"
    return f"could be {number if same else low} to {high}"


def count_figure(n: float, noun: str) -> str:
    """Count in figures: 1 year, 7 years."""
    return f"{n:g} {noun if n == 1 else noun + 's'}"


def still(survival: float, out_of: int = OUT_OF) -> int:
    """Return how many of 20 still work, halves rounded up; what fails is the rest, so both add up."""
    return math.floor(survival * out_of + 0.5)


def of_hundred(share: float) -> str:
    """Write a share as a count of 100 that is never 0 or all unless it is so.

    >>> of_hundred(0.254), of_hundred(0.999), of_hundred(0.0001), of_hundred(1.0)
    ('25 of 100', 'more than 99 of 100', 'fewer than 1 of 100', '100 of 100')
    """
    k = math.floor(share * 100 + 0.5)
    if k == 0 and share > 0:
        return "fewer than 1 of 100"
    if k == 100 and share < 1:
        return "more than 99 of 100"
    return f"{k} of 100"


def part_of(share: float) -> str:
    """Write a chance as a count of the least round number that holds it.

    >>> part_of(0.9), part_of(1 - 0.99), part_of(0.995)
    ('18 of 20', '1 of 100', '995 of 1000')
    """
    base = next((b for b in BASES if abs(share * b - round(share * b)) < 1e-6), BASES[-1])
    return f"{whole(share * base)} of {whole(base)}"


def could_be(lower: float, upper: float, out_of: int = OUT_OF) -> str:
    """State an interval of shares as counts of 20, rounded outwards.

    >>> could_be(0.21, 0.53)
    'could be 4 to 11'
    """
    low, high = math.floor(lower * out_of + 1e-9), math.ceil(upper * out_of - 1e-9)
    return f"could be {low} to {high}"


def _lead(k: int, share: float, all_of: str) -> str:
    """Begin with a count of 20 that is never 0 or all unless it is so."""
    if k == 0 and share > 0:
        return "Fewer than 1 of 20"
    if k == OUT_OF and share < 1:
        return all_of
    return f"About {k} of 20"


def fails_within(survival: float, limits: tuple[float, float] | None, when: str, noun: str = "such parts") -> str:
    """Say how many of 20 fail by then; `limits` are those of the share still working."""
    failed = OUT_OF - still(survival)
    lead = _lead(failed, 1 - survival, "Nearly all 20")
    sentence = f"{lead} {noun} {'fails' if lead == 'About 1 of 20' else 'fail'} within {when}"
    return f"{sentence} ({could_be(1 - limits[1], 1 - limits[0])})." if limits else f"{sentence}."


def at_least(lower: float, when: str, noun: str = "such parts") -> str:
    """Say what is known when only the lower limit is."""
    k = math.floor(lower * OUT_OF + 1e-9)
    if k == 0:
        return f"How many of 20 {noun} last longer than {when}, the records do not say."
    verb = "lasts" if k == 1 else "last"
    return f"At least {k} of 20 {noun} {verb} longer than {when}; how much longer, the records do not say."


def still_work(when: str, a: tuple[str, float], b: tuple[str, float]) -> str:
    """Compare two designs at one age."""
    return f"After {when} {still(a[1])} of 20 of {a[0]} still work, {still(b[1])} of {b[0]}."


def no_failure(unit_years: float, rate_upper: float | None, verb: str = "seen") -> str:
    """Nothing seen is a result, with its limit."""
    seen = f"No failure {verb} in {two(unit_years)} years of watching."
    if rate_upper is None:
        return seen
    return f"{seen} The true rate could still be up to {two(rate_upper)} a year in 100 such parts."


def too_little(failures: int, units: int, needed: int) -> str:
    """Leave blank, and say what would fill it."""
    more = max(1, needed - failures)
    return (
        f"Too little to say: {count(failures, 'failure')} among {count(units, 'part')}. "
        f"With {count(more, 'more failure')} a curve of its own can be drawn."
    )


def of_needed(failures: int, needed: int) -> str:
    """Say how far the evidence has come: 3 of the 5 failures needed."""
    more = count(max(1, needed - failures), "more failure")
    return f"{failures} of the {needed} failures needed for a firm figure: {more} to go."


def borrowed(failures: int, family: str, members: int, family_failures: int) -> str:
    """Say whose numbers a pencilled figure is made of."""
    own = f"With only {count(failures, 'failure')} of its own" if failures else "Without a failure of its own"
    return (
        f"Pencilled in. {own}, this part borrows from its family, {family}: "
        f"{count(family_failures, 'failure')} over {count(members, 'component')}."
    )


def outlasts() -> str:
    """Say of a life far beyond anything watched only that it is long."""
    return "Half of them outlast anything that was ever watched here; no figure of that length can be leant on."


def thin_tail(when: str, least: int) -> str:
    """Warn of the part of a curve that few parts carry."""
    return f"Beyond {when} fewer than {COUNTS[least]} were still being watched: do not lean on it."


def untimed(failures: int) -> str:
    """Say which failures have no tick."""
    if failures == 1:
        return "One failure of a part of unknown age counts in the curve and has no tick."
    return f"{first_up(count(failures, 'failure'))} of parts of unknown age count in the curve and have no tick."


def times(n: int) -> str:
    """Say how often: once, twice, three times."""
    return {1: "once", 2: "twice"}.get(n, count(n, "time"))


def safety_critical(component: str) -> str:
    """Refuse a remaining life, and say what to do instead."""
    return f"No remaining life is shown for {component}. Inspect by the maker's manual."


def times_expected(seen: int, cars: int, expected: float, ratio: float, limits: tuple[float, float] | None) -> str:
    """Say on how many visits a place was at fault beside what chance would give."""
    said = (
        f"a fault on {count(seen, 'visit')} of {count(cars, 'car')}, where about {two(expected)} would be chance: "
        f"after allowing for luck {two(ratio)} times as many"
    )
    return f"{said} (could be {two(limits[0])} to {two(limits[1])} times)." if limits else f"{said}."


def stock(on_hand: float, on_order: float, reserved: float) -> str:
    """Name what can be counted on: the 6 on the shelf and 4 on order."""
    text = f"the {whole(on_hand)} on the shelf"
    if on_order:
        text += f" and {whole(on_order)} on order"
    return f"{text}, less {whole(reserved)} reserved," if reserved else text


def needs(quantity: int, days: float, level: float) -> str:
    """Say what will be needed, with this chance, where nobody counted the shelf."""
    most = "no part is" if quantity == 0 else f"at most {count(quantity, 'part is', 'parts are')}"
    within = count_figure(round(days), "day")
    return f"No stock count is known. In {part_of(level)} outlooks {most} needed within {within}."


def runs_out(short: int, held: str, order: int, left: int) -> str:
    """Say what the shelf does in 20 outlooks, without and with an order."""
    verb = "runs" if held == "the 1 on the shelf" else "run"
    lost = "a part is needed from the empty shelf" if held == "the 0 on the shelf" else f"{held} {verb} out"
    first = f"In {short} of 20 outlooks {lost} before the next delivery."
    if order == 0:
        return f"Order nothing now. {first}"
    brings = "leaves that" if left == short else "brings that down to"
    return f"Order {order}. {first} Ordering {order} {brings} {left} of 20."


def evidence(state: State, facts: Sequence[str], until: date, meaning: str = "") -> str:
    """Write the line under every answer: state, what it means here if not as usual, counts, how fresh."""
    symbol, word, usual = STATES[state]
    return BETWEEN.join([f":material/{symbol}: **{word}**, {meaning or usual}", *facts, f"records to {day(until)}"])
