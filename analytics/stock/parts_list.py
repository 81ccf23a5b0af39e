"""Contradictions and gaps in the parts list: what supersedes what, and serials that two parts or none are given for."""

from __future__ import annotations

from itertools import combinations, pairwise
from typing import TYPE_CHECKING

import polars as pl

from analytics.serials import serial_key

if TYPE_CHECKING:
    from collections.abc import Iterator

Row = dict[str, str | None]
COLUMNS = ("kind", "part_no", "other_part_no", "component", "position", "series", "serial_from", "serial_to", "says")
PLACE = ("component", "position", "series", "serial_from", "serial_to")

LOWEST, HIGHEST = ("", -1), (chr(0x10FFFF), 0)


def catalogue_findings(catalogue: pl.DataFrame) -> pl.DataFrame:
    """Return snapshot table ``catalogue_finding``.

    Parameters
    ----------
    catalogue
        Feed table ``parts`` with `live_no`, `in_circle` and `listed`.
    """
    wanted = ("part_no", "live_no", "in_circle", *PLACE, "superseded_by", "looks_like")
    listed = catalogue.filter("listed") if "listed" in catalogue.columns else catalogue
    rows = listed.select(
        pl.col(name) if name in listed.columns else pl.lit(None, dtype=pl.String).alias(name) for name in wanted
    )
    found = [*_of_numbers(rows), *_of_ranges(rows)]
    frame = pl.DataFrame(found, schema=dict.fromkeys(COLUMNS, pl.String))
    return frame.unique(maintain_order=True).sort(COLUMNS[:-1], nulls_last=True)


def _finding(kind: str, part_no: str, says: str, **values: str | None) -> Row:
    return {**dict.fromkeys(COLUMNS), "kind": kind, "part_no": part_no, "says": says, **values}


def _of_numbers(rows: pl.DataFrame) -> Iterator[Row]:
    """Give the findings of supersession and looks."""
    numbers = rows.group_by("part_no", maintain_order=True).agg(
        pl.col("live_no", "in_circle").first(),
        next=pl.col("superseded_by").drop_nulls().unique().sort(),
        alike=pl.col("looks_like").drop_nulls().unique().sort(),
    )
    live = dict(numbers.select("part_no", "live_no").iter_rows())
    for part, end, circle, after, alike in numbers.iter_rows():
        if circle:
            says = f"{part} leads back to itself over superseded_by; {end} is taken as the one on sale"
            yield _finding("circle", part, says, other_part_no=end)
        if len(after) > 1:
            says = f"{part} is superseded by {' and by '.join(after)}; {after[-1]} is taken: state one in all its rows"
            yield _finding("two successors", part, says, other_part_no=after[0])
        for other in sorted({name.strip() for text in alike for name in text.split(";")} - {"", part}):
            if live.get(other) == end:
                says = f"{part} and {other} are one group by superseded_by, and look alike without interchanging"
                yield _finding("look-alike in one group", part, says, other_part_no=other)


def _of_ranges(rows: pl.DataFrame) -> Iterator[Row]:
    """Give the findings of serial ranges, component by component."""
    ranged = rows.filter(pl.col("serial_from").is_not_null() | pl.col("serial_to").is_not_null())
    for row in ranged.iter_rows(named=True):
        if row["serial_from"] and row["serial_to"] and serial_key(row["serial_from"]) > serial_key(row["serial_to"]):
            says = f"{row['part_no']} fits from {row['serial_from']} to {row['serial_to']}, which holds no serial"
            yield _finding("range upside down", row["part_no"], says, **{name: row[name] for name in PLACE})
    concerned = rows.join(ranged.select("component").unique(), on="component", how="semi")
    for same in concerned.partition_by("component", maintain_order=True):  # few components have ranges
        listed = same.to_dicts()
        for one, two in combinations(listed, 2):
            yield from _overlap(one, two)
        yield from _gaps(listed)


def _ends(row: Row) -> tuple[tuple[str, int], tuple[str, int]]:
    first, last = row["serial_from"], row["serial_to"]
    return (serial_key(first) if first else LOWEST), (serial_key(last) if last else HIGHEST)


def _overlap(one: Row, two: Row) -> Iterator[Row]:
    """Give the serials that two parts which do not serve for one another are both given for."""
    apart = one["live_no"] == two["live_no"] or one["part_no"] == two["part_no"]
    for name in ("position", "series"):
        apart |= one[name] is not None and two[name] is not None and one[name] != two[name]
    first, last = max(_ends(one)[0], _ends(two)[0]), min(_ends(one)[1], _ends(two)[1])
    if apart or first > last:
        return
    low = next((row["serial_from"] for row in (one, two) if row["serial_from"] and _ends(row)[0] == first), None)
    high = next((row["serial_to"] for row in (one, two) if row["serial_to"] and _ends(row)[1] == last), None)
    where = " ".join(filter(None, (one["series"] or two["series"], low and f"from {low}", high and f"to {high}")))
    says = (
        f"{one['part_no']} and {two['part_no']} are both given for {where or 'the same cars'}, and neither supersedes"
    )
    place = {"position": one["position"] or two["position"], "series": one["series"] or two["series"]}
    yield _finding(
        "overlap", str(one["part_no"]), f"{says} the other", other_part_no=two["part_no"], component=one["component"],
        serial_from=low, serial_to=high, **place,
    )  # fmt: skip


def _gaps(rows: list[Row]) -> Iterator[Row]:
    """Give the serials between two ranges of one place that no part is given for."""
    for position in sorted({row["position"] for row in rows}, key=str):
        for series in sorted({str(row["series"]) for row in rows if row["series"]}):
            here = [row for row in rows if row["position"] in (None, position) and row["series"] in (None, series)]
            ranges = sorted(here, key=_ends)
            reached, until = LOWEST, None
            for row, after in pairwise(ranges):
                if _ends(row)[1] > reached:
                    reached, until = _ends(row)[1], row
                start = _ends(after)[0]
                if until is not None and start[0] == reached[0] and start[1] > reached[1] + 1:
                    yield _gap(until, after, position, series)


def _gap(until: Row, after: Row, position: str | None, series: str) -> Row:
    says = (
        f"no part is given for serials of {series} between {until['serial_to']} ({until['part_no']}) and "
        f"{after['serial_from']} ({after['part_no']})"
    )
    return _finding(
        "gap", str(until["part_no"]), says, other_part_no=after["part_no"], component=until["component"],
        position=position, series=series, serial_from=until["serial_to"], serial_to=after["serial_from"],
    )  # fmt: skip
