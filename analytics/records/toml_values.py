"""Take values of a known kind out of parsed TOML, or refuse them with what was seen and what is known."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from analytics.errors import FeedError

if TYPE_CHECKING:
    from collections.abc import Iterable


def known_keys(value: object, known: Iterable[str], where: str, noun: str = "key") -> dict[str, Any]:
    """Return the table `value` if all its keys are known.

    Raises
    ------
    FeedError
        If it is no table or has another key; the message lists the known ones.
    """
    table = table_of(value, where)
    names = tuple(known)
    unknown = [key for key in table if key not in names]
    if unknown:
        raise FeedError(
            f"unknown {noun}: {', '.join(unknown)}", where=where, next_step=f"use one of: {', '.join(names)}"
        )
    return table


def table_of(value: object, where: str) -> dict[str, Any]:
    """Return `value` if it is a table of names.

    Raises
    ------
    FeedError
        If it is anything else.
    """
    if not isinstance(value, dict):
        raise FeedError(f"{value!r} stands where names are given values", where=where, next_step='write { name = "x" }')
    return value


def blocks_of(value: object, where: str) -> list[Any]:
    """Return a list of blocks; one block ``[name]`` counts as a list of one.

    Raises
    ------
    FeedError
        If `value` is neither.
    """
    if isinstance(value, dict):
        return [value]
    if not isinstance(value, list):
        raise FeedError(f"{value!r} stands where a block is needed", where=where, next_step="write [[table]] above it")
    return value


def word(value: object, name: str, where: str) -> str:
    """Return `value` as text; numbers become their digits and booleans ``yes`` or ``no``.

    Raises
    ------
    FeedError
        If it is a table, a list or a date.
    """
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, str | int | float):
        raise FeedError(f"{name} is {value!r}, not a text", where=where, next_step=f'write {name} = "..."')
    return str(value)


def list_of(value: object, name: str, where: str) -> list[Any]:
    """Return `value` if it is a list.

    Raises
    ------
    FeedError
        If it is anything else.
    """
    if not isinstance(value, list):
        raise FeedError(f"{name} is {value!r}, not a list", where=where, next_step=f"write {name} = [...]")
    return value


def words(value: object, name: str, where: str) -> tuple[str, ...]:
    """Return a list of texts.

    Raises
    ------
    FeedError
        If `value` is no list of texts or numbers.
    """
    return tuple(word(each, name, where) for each in list_of(value, name, where))


def whole(value: object, name: str, where: str, least: int, most: int | None = None) -> int:
    """Return a whole number of at least `least`, and at most `most` where that is given.

    Raises
    ------
    FeedError
        If `value` is anything else.
    """
    if isinstance(value, bool) or not isinstance(value, int) or value < least or (most and value > most):
        within = f" from {least} to {most}" if most else f", {least} or more"
        raise FeedError(f"{name} is {value!r}", where=where, next_step=f"write a whole number{within}, without quotes")
    return value


def amount(value: object, name: str, where: str, most: float) -> float:
    """Return a number from 0 to the most.

    Raises
    ------
    FeedError
        If `value` is anything else.
    """
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= most:
        raise FeedError(f"{name} is {value!r}", where=where, next_step=f"write a number from 0 to {most:g}, no quotes")
    return float(value)


def truth(value: object, name: str, where: str) -> bool:
    """Return ``true`` or ``false``.

    Raises
    ------
    FeedError
        If `value` is anything else.
    """
    if not isinstance(value, bool):
        raise FeedError(f"{name} is {value!r}", where=where, next_step=f"write {name} = true or {name} = false")
    return value


def one_of(value: object, known: Iterable[str], name: str, where: str) -> str:
    """Return a text that is one of the known ones.

    Raises
    ------
    FeedError
        If it is not; the message lists them.
    """
    names = tuple(known)
    if not isinstance(value, str) or value not in names:
        shown = ", ".join(repr(each) for each in names)
        raise FeedError(f"{name} is {value!r}", where=where, next_step=f"use one of: {shown}")
    return value
