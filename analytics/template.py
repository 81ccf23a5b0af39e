"""Write the workbook that a new user types the first jobs into: `load` reads its sheets as they are."""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING, Any

import xlsxwriter  # type: ignore[import-untyped]

from analytics.errors import FeedError, OutputError
from analytics.records.feed import FEED
from analytics.records.mapped import EXAMPLE
from analytics.records.parts import rows_of

if TYPE_CHECKING:
    from pathlib import Path

    from analytics.records import MappedFeed
    from analytics.records.table import Column, Table

SHEETS = ("vehicles", "repairs", "components", "stock")
"""Tables of the feed that a workshop types by hand, in the order of typing."""

FROZEN = {"vehicles": 1, "repairs": 3, "components": 2, "stock": 1}
"""Columns that stay in sight beside the heading."""

LAST_ROW = 5000
"""Drop-down lists and formats reach down to this row of the sheet."""

CHOSEN_FROM = {
    ("repairs", "vehicle_id"): ("vehicles", "vehicle_id"),
    ("repairs", "component"): ("components", "component"),
    ("repairs", "position"): ("components", "position"),
}
"""Columns that offer what another sheet holds; another word may be typed all the same."""

ALSO = {
    "vehicle_id": "Write it the same way everywhere. No owner's name, no registration.",
    "series": "Cars of one series have the same parts.",
    "built_on": "A month (05.1978) or a year (1978) will do.",
    "line_no": "1, 2, 3 where one job has several lines, one line for each part of the car.",
    "opened_on": "The fault counts on this day, the new part from closed_on.",
    "odometer_unit": "km is taken where it is empty.",
    "came_for": "The other lines of the job are then what was found beside it.",
    "component": "The same word for the same kind of part, on every sheet.",
    "position": "Where the car has several of them, such as front left.",
    "finding": "Write good where a check found nothing wrong.",
    "reason": "Choose found at inspection with action inspected for a fault that was left.",
    "quantity": "1 is taken where it is empty.",
    "safety_critical": "Such as brakes, fuel, steering. Where it is empty, the name decides.",
    "system": "Such as cooling, brakes or ignition.",
    "may_harm": "From how the car is built, not from what the records show.",
}
"""What a person who types should know beyond the column's own meaning."""

EXAMPLES: dict[str, tuple[dict[str, str | int], ...]] = {
    "vehicles": (
        {"vehicle_id": f"{EXAMPLE} blue coupe", "series": "S2", "built_on": "1974", "serial": "LW2-07210"},
        {"vehicle_id": f"{EXAMPLE} grey saloon", "series": "S3", "built_on": "09.03.1984", "odometer_digits": 6},
    ),
    "repairs": (
        {
            **{"record_id": f"{EXAMPLE} 1", "line_no": 1, "vehicle_id": f"{EXAMPLE} blue coupe"},
            **{"opened_on": "20.09.2024", "closed_on": "24.09.2024", "odometer": 61900, "odometer_unit": "mi"},
            **{"symptom": "air from wrong vents", "component": "flap actuator", "position": "screen"},
            **{"finding": "diaphragm torn", "action": "replaced", "reason": "failure"},
            **{"part_no": "SL-7102", "part_origin": "new", "quantity": 1, "labour_minutes": 150},
        },
        {
            **{"record_id": f"{EXAMPLE} 1", "line_no": 2, "vehicle_id": f"{EXAMPLE} blue coupe"},
            **{"opened_on": "20.09.2024", "closed_on": "24.09.2024", "odometer": 61900, "odometer_unit": "mi"},
            **{"component": "coolant hose", "position": "top", "finding": "good"},
            **{"action": "inspected", "reason": "planned"},
        },
    ),
    "components": (
        {"component": f"{EXAMPLE} flap actuator", "position": "screen", "system": "Heating", "safety_critical": "no"},
        {"component": f"{EXAMPLE} brake hose", "position": "front left", "system": "Brakes", "safety_critical": "yes"},
    ),
    "stock": (
        {"part_no": f"{EXAMPLE} SL-7102", "counted_on": "24.09.2024", "on_hand": 2, "reserved": 1},
        {
            **{"part_no": f"{EXAMPLE} SL-1102", "counted_on": "24.09.2024", "on_hand": 0},
            **{"on_order": 25, "on_order_due": "15.10.2024"},
        },
    ),
}
"""Two rows for each sheet; the first word of each keeps them out of the ledger."""

BEFORE_EXAMPLES_END = 1 + max(len(rows) for rows in EXAMPLES.values())
"""Rows of heading and examples; a person's own rows begin below."""


def write_template(path: Path) -> None:
    """Write the workbook.

    Parameters
    ----------
    path
        File to write, ending in ``.xlsx``; one that is there stays as it is.

    Raises
    ------
    OutputError
        If the name is no workbook's, or the file is there already.
    OSError
        If the file cannot be written.
    """
    where = "template --to"
    if path.suffix.lower() != ".xlsx":
        raise OutputError(f"{path} is no workbook", where=where, next_step="name a file that ends in .xlsx")
    if path.exists():
        raise OutputError(
            f"{path} is already there, and may hold jobs that somebody typed",
            where=where,
            next_step="name another file, or move that one away",
        )
    made = BytesIO()
    with xlsxwriter.Workbook(made, {"strings_to_formulas": False, "strings_to_urls": False}) as book:
        looks = _looks(book)
        for name in SHEETS:
            _write_sheet(book.add_worksheet(name), FEED[name], looks)
    with path.open("xb") as file:
        file.write(made.getvalue())


def refuse_empty(mapped: MappedFeed) -> None:
    """Refuse a feed without a row, such as a workbook in which nobody has typed yet.

    Parameters
    ----------
    mapped
        Feed after its mapping; the examples are left out, and the notes say so.

    Raises
    ------
    FeedError
        If no row is there, besides examples.
    """
    if any(rows_of(mapped.tables, name).height for name in mapped.tables):
        return
    where = ", ".join(name for name, _ in mapped.files)
    if any("example row" in note for note in mapped.notes):
        raise FeedError(
            "there are only example rows in it",
            where=where,
            next_step="type your cars and jobs below the grey rows, save the workbook and load it again",
        )
    raise FeedError(
        "there are headings in it, and no row to load",
        where=where,
        next_step="export it again with its rows, or look at what the mapping leaves out: wearledger load --dry-run",
    )


def _looks(book: Any) -> dict[str, Any]:  # noqa: ANN401 - the workbook's library declares no types
    """Return the formats by name.

    Days and names are text, because a spreadsheet would read 03/05/2024 in its own country's order, 1978 as a day
    of 1905, and 007 as 7; the loader reads text with the day first.
    """
    heading = {"bold": True, "bottom": 1, "valign": "top"}
    return {
        "heading": book.add_format(heading),
        "required": book.add_format({**heading, "bottom": 5, "bg_color": "#F4E3B5"}),
        "text": book.add_format({"num_format": "@"}),
        "number": book.add_format(),
        "example text": book.add_format({"num_format": "@", "font_color": "#8A8A8A", "italic": True}),
        "example number": book.add_format({"font_color": "#8A8A8A", "italic": True}),
    }


def _write_sheet(sheet: Any, table: Table, looks: dict[str, Any]) -> None:  # noqa: ANN401 - as above
    sheet.freeze_panes(1, FROZEN[table.name])
    sheet.ignore_errors({"number_stored_as_text": f"A1:AZ{LAST_ROW}"})
    for at, column in enumerate(table.columns):
        kind = "number" if column.kind in {"number", "whole"} else "text"
        sheet.set_column(at, at, _width(column), looks[kind])
        sheet.write_string(0, at, column.name, looks["required" if _must_be_filled(column) else "heading"])
        sheet.write_comment(0, at, explained(column), {"x_scale": 2, "y_scale": 1.4})
        allowed = _allowed(table, column)
        if allowed:
            sheet.data_validation(1, at, LAST_ROW - 1, at, allowed)
    for row, example in enumerate(EXAMPLES[table.name], start=1):
        for at, column in enumerate(table.columns):
            value = example.get(column.name)
            if isinstance(value, str):
                sheet.write_string(row, at, value, looks["example text"])
            elif value is not None:
                sheet.write_number(row, at, value, looks["example number"])


def explained(column: Column) -> str:
    """Say in words what belongs into a column.

    Parameters
    ----------
    column
        Declared column of the feed.
    """
    words = [f"{column.meaning[:1].upper()}{column.meaning[1:]}."]
    words.append("Must be filled." if _must_be_filled(column) else "May stay empty.")
    if column.default is not None:
        words.append(f"{column.default} is taken where it is empty.")
    if column.kind == "date":
        words.append("Day first: 03.05.2024 is 3 May.")
    if column.unit and column.kind != "date":
        words.append(f"In: {column.unit}.")
    if column.kind == "yes_no":
        words.append("yes or no.")
    if column.values:
        words.append(f"One of: {', '.join(column.values)}.")
    return " ".join([*words, ALSO.get(column.name, "")]).strip()


def _must_be_filled(column: Column) -> bool:
    return not column.nullable and column.default is None


def _width(column: Column) -> int:
    longest = max((len(word) for word in column.values), default=0)
    names = 24 if column.name in {"vehicle_id", "component", "record_id", "part_no", "symptom", "finding"} else 0
    return max(len(column.name) + 3, min(longest + 3, 24), names, 12)


def _allowed(table: Table, column: Column) -> dict[str, object] | None:
    """Return the column's drop-down list, or what is said where a day is typed."""
    if (table.name, column.name) in CHOSEN_FROM:
        listed = _listed(*CHOSEN_FROM[table.name, column.name])
        return {"validate": "list", "source": listed, "show_error": False}
    words = ("yes", "no") if column.kind == "yes_no" else column.values
    if words:
        return {
            **{"validate": "list", "source": list(words), "error_title": column.name},
            "error_message": "Please choose a word of the list, or leave the cell empty.",
        }
    if column.kind == "date":
        return {"validate": "any", "input_title": column.name, "input_message": "Day first: 03.05.2024 is 3 May."}
    return None


def _listed(sheet: str, name: str) -> str:
    """Return the cells that are filled in another sheet's column, below the examples."""
    letter = chr(ord("A") + FEED[sheet].names.index(name))
    first = f"{sheet}!${letter}${BEFORE_EXAMPLES_END + 1}"
    return f"=OFFSET({first},0,0,MAX(1,COUNTA({first}:${letter}${LAST_ROW})),1)"
