"""What speaks against two names being one: refused where figures would become wrong, else told."""

from __future__ import annotations

import shlex
from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from analytics.errors import LedgerError
from analytics.records.naming import SIDES
from analytics.records.values import RESERVED
from analytics.safety import critical_by_name

if TYPE_CHECKING:
    from collections.abc import Set as AbstractSet

    import duckdb


@dataclass(frozen=True, slots=True)
class Said:
    """What a person says to be one.

    Attributes
    ----------
    kind
        Component, part, location, position or vehicle.
    old, new
        The name that is read as the other.
    old_key, new_key
        Keys under which their spellings meet.
    """

    kind: str
    old: str
    new: str
    old_key: str
    new_key: str

    @staticmethod
    def quoted(name: str) -> str:
        """Return a name as it is typed on a command line."""
        return shlex.quote(name)


def refuse_name(said: Said) -> None:
    """Refuse an empty or reserved name, and two spellings that are read as one already.

    Raises
    ------
    LedgerError
        With what to do instead.
    """
    where = f"same {said.kind} OLD NEW"
    if not said.old or not said.new:
        raise LedgerError("a name is empty", where=where, next_step="write two names, in quotes where they hold blanks")
    reserved = [name for name in (said.old, said.new) if name.lower() in RESERVED.get(said.kind, ())]
    if reserved:
        raise LedgerError(
            f"{reserved[0]!r} is a word reserved for the results", where=where, next_step="choose another name"
        )
    if said.old_key == said.new_key:
        raise LedgerError(
            f"{said.old!r} and {said.new!r} are read as one {said.kind} already",
            where=where,
            next_step="nothing has to be said: case, blanks, hyphens, full stops and the usual words for sides do not "
            "count",
        )


def refuse_contradiction(connection: duckdb.DuckDBPyConnection, said: Said) -> None:
    """Refuse what the tables contradict: cars of two series, parts that only look alike, a mark of safety lost.

    Raises
    ------
    LedgerError
        With what to do instead.
    """
    contradiction = {"vehicle": _two_series, "part": _looks_alike, "component": _less_safe}.get(said.kind)
    if contradiction:
        contradiction(connection, said)


def warnings_about(connection: duckdb.DuckDBPyConnection, said: Said, known: AbstractSet[str]) -> list[str]:
    """Return sentences about what may be a slip: names nobody knows, other sides or figures, cars unlike each other.

    Parameters
    ----------
    connection
        An open ledger.
    said
        What a person says to be one.
    known
        Keys of all names of the kind.
    """
    told = [
        f"no record or table has the {said.kind} {name!r} yet"
        for name, key in ((said.old, said.old_key), (said.new, said.new_key))
        if key not in known
    ]
    if said.kind != "part" and said.kind != "vehicle" and _marks(said.old_key) != _marks(said.new_key):
        told.append("the two differ in a side or a figure; if they are two things after all, take it back")
    if said.kind == "vehicle":
        old, new = (_car(connection, name) for name in (said.old, said.new))
        for column, noun in (("serial", "chassis serials"), ("built_on", "days of building"), ("owner_key", "owners")):
            if None not in (old[column], new[column]) and old[column] != new[column]:
                told.append(f"the two have different {noun}; those of {said.new} count")
    return told


def _marks(key: str) -> tuple[list[str], list[str]]:
    words = key.split(" ")
    return sorted(word for word in words if word in SIDES), sorted(letter for letter in key if letter.isdigit())


def _car(connection: duckdb.DuckDBPyConnection, vehicle_id: str) -> dict[str, object]:
    cars = connection.table("vehicles").pl()
    found: dict[str, object] = cars.row(by_predicate=pl.col("vehicle_id") == vehicle_id, named=True)
    return found


def _two_series(connection: duckdb.DuckDBPyConnection, said: Said) -> None:
    old, new = (_car(connection, name)["series"] for name in (said.old, said.new))
    if old != new:
        raise LedgerError(
            f"car {said.old} is of series {old}, car {said.new} of series {new}",
            where="same vehicle OLD NEW",
            next_step="if they are one car, mend its series in the table vehicles and load that again first",
        )


def _looks_alike(connection: duckdb.DuckDBPyConnection, said: Said) -> None:
    parts = connection.table("parts").pl().select("part_no", pl.col("looks_like").str.split(";")).explode("looks_like")
    pairs = {(no, like.strip()) for no, like in parts.drop_nulls().iter_rows()}
    if pairs & {(said.old, said.new), (said.new, said.old)}:
        raise LedgerError(
            f"{said.old} and {said.new} look alike and do not interchange, says the table parts",
            where="same part OLD NEW",
            next_step="if they are one part, take one out of the other's looks_like and load parts again first",
        )


def _less_safe(connection: duckdb.DuckDBPyConnection, said: Said) -> None:
    """Refuse to read a component that is critical by its name as one that nobody would take for it (rule 39)."""
    if not critical_by_name(said.old) or critical_by_name(said.new):
        return
    components = connection.table("components").pl().filter("safety_critical")
    if said.new not in components["component"]:
        raise LedgerError(
            f"{said.old!r} is critical for safety by its name, and nothing says so of {said.new!r}",
            where="same component OLD NEW",
            next_step=f"state safety_critical = yes for {said.new!r} in the table components and load that first, or "
            "choose the other name to be shown",
        )
