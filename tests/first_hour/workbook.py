"""Type rows into the template as a person would, below the grey examples."""

from __future__ import annotations

from typing import TYPE_CHECKING

import openpyxl

if TYPE_CHECKING:
    from pathlib import Path

FIRST_OWN_ROW = 4


def typed(template: Path, to: Path, **sheets: list[dict[str, object]]) -> Path:
    """Fill sheets of the template and save it under another name."""
    book = openpyxl.load_workbook(template)
    for name, rows in sheets.items():
        sheet = book[name]
        heading = [cell.value for cell in sheet[1]]
        for at, row in enumerate(rows, start=FIRST_OWN_ROW):
            for column, value in row.items():
                sheet.cell(at, heading.index(column) + 1).value = value
    book.save(to)
    return to
