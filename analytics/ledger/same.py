"""One meaning, two names: said by a person, kept in ledger and journal, applied on reading, taken back at will."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

import polars as pl

from analytics.errors import LedgerError
from analytics.ledger.connect import open_ledger, transaction
from analytics.ledger.journal import announce, note_loads, read_journal
from analytics.ledger.load import WRITING
from analytics.ledger.names import NUMBERED, key_of
from analytics.ledger.private_key import known_as
from analytics.ledger.queries import answer
from analytics.ledger.same_checks import Said, refuse_contradiction, refuse_name, warnings_about
from analytics.ledger.taking import insert_frame, now

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

KINDS = ("component", "part", "location", "position", "vehicle")
"""What names can be said to be one."""

EVER = date.max


def same(data_dir: Path, kind: str, old: str, new: str) -> list[str]:
    """Say that one name means another: from now on it is read so, in what was loaded and in what will be.

    Parameters
    ----------
    data_dir
        Data folder.
    kind
        One of `KINDS`.
    old
        Name that is read as the other; for components, places and positions every spelling of it.
    new
        Name under which both are shown.

    Returns
    -------
    list of str
        What is worth knowing about it, a sentence each.

    Raises
    ------
    LedgerError
        If the two are one already, one of them was said to be another before, a car is not known or of another
        series, a part is said to look alike only, or a component would lose its mark as critical for safety.

    Notes
    -----
    Kept records stay as written; `apart` takes it back. Names are not passed on: what `old` means is no `old` itself.
    """
    with WRITING, open_ledger(data_dir, write=True) as connection:
        note_loads(data_dir, connection)
        old, new = _one_of(connection, data_dir, kind, old), _one_of(connection, data_dir, kind, new)
        said = Said(kind, old, new, key_of(kind, old), key_of(kind, new))
        refuse_name(said)
        _refuse_chain(said, answer(connection, "same_stated").filter(pl.col("kind") == kind))
        refuse_contradiction(connection, said)
        told = warnings_about(connection, said, _known(connection, kind))
        with transaction(connection):
            _say(connection, kind, old, new)
            announce(data_dir, connection, {"did": "same", "kind": kind, "old": old, "new": new})
        note_loads(data_dir, connection)
    return told


def apart(data_dir: Path, kind: str, old: str) -> str:
    """Take back that a name means another.

    Parameters
    ----------
    data_dir
        Data folder.
    kind
        One of `KINDS`.
    old
        Name that was said to mean another.

    Returns
    -------
    str
        What it was read as.

    Raises
    ------
    LedgerError
        If it was not said to mean another.
    """
    with WRITING, open_ledger(data_dir, write=True) as connection:
        note_loads(data_dir, connection)
        stated = answer(connection, "same_stated").filter(pl.col("kind") == kind)
        names = known_as(data_dir, old) if kind == "vehicle" else [old.strip()]
        keys = {key_of(kind, name) for name in names}
        found = [row for row in stated.rows() if key_of(kind, row[1]) in keys]
        if not found:
            there = ", ".join(repr(name) for name in stated["old_name"]) or "none"
            raise LedgerError(
                f"{kind} {old!r} is not read as another one",
                where="same --undo",
                next_step=f"name one that is: {there}; `wearledger same` lists them",
            )
        _, name, meant = found[0]
        with transaction(connection):
            _say(connection, kind, name, None)
            announce(data_dir, connection, {"did": "not same", "kind": kind, "old": name})
        note_loads(data_dir, connection)
    return str(meant)


def same_names(connection: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """Return what persons said to be one: kind, old_name, new_name, sorted."""
    return answer(connection, "same_stated")


def repeat_name(connection: duckdb.DuckDBPyConnection, step: dict[str, Any]) -> None:
    """Repeat a step of the journal that says what a name means, or takes it back."""
    _say(connection, step["kind"], step["old"], step.get("new"))


def ids_of(data_dir: Path, vehicle_id: str) -> list[str]:
    """Return every id of a car: as it is written, its keyed hash, and those said to be the same car; its own last.

    Parameters
    ----------
    data_dir
        Data folder; only its key and its journal are read.
    vehicle_id
        One of the ids.

    Raises
    ------
    LedgerError
        If key or journal are not what was written.
    """
    return ids_of_one_car(read_journal(data_dir), known_as(data_dir, vehicle_id))


def ids_of_one_car(steps: list[dict[str, Any]], ids: list[str]) -> list[str]:
    """Return ids, and by the journal's steps all others of the same car.

    Examples
    --------
    >>> said = [{"did": "same", "kind": "vehicle", "old": "a", "new": "b"}]
    >>> ids_of_one_car(said, ["a"]), ids_of_one_car(said, ["b"]), ids_of_one_car(said, ["c"])
    (['a', 'b'], ['b', 'a'], ['c'])
    """
    means: dict[str, str] = {}
    for step in steps:
        if step.get("kind") == "vehicle":
            means |= {step["old"]: step.get("new", "")}
    named = {means.get(each) or each for each in ids}
    others = sorted(old for old, new in means.items() if new in named)
    return [*dict.fromkeys([*ids, *sorted(named), *others])]


def _say(connection: duckdb.DuckDBPyConnection, kind: str, old: str, new: str | None) -> None:
    """Keep what a name means, None = itself again, within the caller's transaction; nothing is checked."""
    step = connection.table("same_name").count("*").fetchall()[0][0] + 1
    row = {"step": [step], "kind": [kind], "old_name": [old], "new_name": [new], "said_at": [now()]}
    insert_frame(connection, "same_name", pl.DataFrame(row, schema_overrides={"new_name": pl.String}))


def _known(connection: duckdb.DuckDBPyConnection, kind: str) -> set[str]:
    """Return the keys of all names of a kind that records or tables hold."""
    query = "names_numbered" if kind in NUMBERED else "names_written"
    written = answer(connection, query, as_of=EVER).filter(pl.col("kind") == kind)["written"].unique()
    return {key_of(kind, name) for name in written}


def _one_of(connection: duckdb.DuckDBPyConnection, data_dir: Path, kind: str, name: str) -> str:
    """Return a name without blanks around it; of a car the id it has in the ledger, which may be a keyed hash."""
    if kind != "vehicle":
        return name.strip()
    cars = connection.table("vehicles").pl()["vehicle_id"]
    found = [each for each in known_as(data_dir, name) if each in cars]
    if not found:
        some = ", ".join(cars.sort().head(3))
        raise LedgerError(
            f"no car {name.strip()!r} is in the ledger",
            where="same vehicle OLD NEW",
            next_step=f"name two cars of the table vehicles, such as {some or 'those you load'}; a line whose car is "
            "misspelt waits in quarantine and is mended there",
        )
    return found[0]


def _refuse_chain(said: Said, stated: pl.DataFrame) -> None:
    """Refuse what would make a chain or a circle, or say a second thing about one name."""
    kind, old, new = said.kind, said.old, said.new
    means = {key_of(kind, name): (name, meant) for _, name, meant in stated.rows()}
    before = [name for name, meant in means.values() if key_of(kind, meant) == said.old_key]
    if said.old_key in means:
        name, meant = means[said.old_key]
        what = f"{kind} {name!r} is already read as {meant!r}"
        next_step = f"take that back first: wearledger same --undo {kind} {said.quoted(name)}"
    elif said.new_key in means and key_of(kind, means[said.new_key][1]) == said.old_key:
        name, meant = means[said.new_key]
        what = f"that would go in a circle: {kind} {name!r} is read as {meant!r}"
        next_step = f"take that back first: wearledger same --undo {kind} {said.quoted(name)}"
    elif said.new_key in means:
        name, meant = means[said.new_key]
        what = f"{kind} {new!r} is itself read as {meant!r}"
        next_step = f"name that one: wearledger same {kind} {said.quoted(old)} {said.quoted(meant)}"
    elif before:
        what = f"{kind} {before[0]!r} is read as {old!r}, which cannot mean another one itself"
        next_step = f"take that back first: wearledger same --undo {kind} {said.quoted(before[0])}; then say both"
    else:
        return
    raise LedgerError(what, where=f"same {kind}", next_step=next_step)
