"""The workbook to type into: what it offers, what it explains, and that nothing in it can run or is loaded."""

import zipfile

import openpyxl
import pytest

from analytics.cli import main
from analytics.records.feed import ACTIONS, FEED, ORIGINS, REASONS
from analytics.template import SHEETS


@pytest.fixture(scope="module")
def book(template):
    return openpyxl.load_workbook(template)


def heading_of(sheet):
    return {cell.value: cell for cell in sheet[1]}


def offered(sheet, column):
    """Return the rule of the column's cells, None where anything may be typed without a word."""
    cell = f"{heading_of(sheet)[column].column_letter}4"
    rules = [rule for rule in sheet.data_validations.dataValidation if cell in rule.sqref]
    assert len(rules) <= 1
    return rules[0] if rules else None


def test_its_sheets_are_tables_of_the_feed_with_the_native_headings(book):
    assert tuple(book.sheetnames) == SHEETS == ("vehicles", "repairs", "components", "stock")
    for name in SHEETS:
        assert tuple(heading_of(book[name])) == FEED[name].names


@pytest.mark.parametrize("name", SHEETS)
def test_every_heading_is_explained_and_the_columns_that_must_be_filled_look_different(book, name):
    marked = set()
    for column, cell in heading_of(book[name]).items():
        declared = FEED[name].column(column)
        assert declared.meaning[1:] in cell.comment.text
        assert ("Must be filled." in cell.comment.text) == (cell.fill.fill_type == "solid")
        if cell.fill.fill_type == "solid":
            marked.add(column)
    assert marked == {c.name for c in FEED[name].columns if not c.nullable and c.default is None}


@pytest.mark.parametrize(
    ("column", "words"),
    [
        ("action", ACTIONS),
        ("reason", REASONS),
        ("part_origin", ORIGINS),
        ("odometer_unit", ("km", "mi")),
        ("came_for", ("yes", "no")),
    ],
)
def test_a_drop_down_list_offers_the_words_that_count_and_refuses_others(book, column, words):
    rule = offered(book["repairs"], column)
    assert rule.formula1 == f'"{",".join(words)}"'
    assert len(rule.formula1) <= 257, "a spreadsheet takes 255 characters between the quotes"
    assert rule.showErrorMessage


@pytest.mark.parametrize(
    ("column", "sheet", "source"),
    [("component", "components", "A"), ("position", "components", "B"), ("vehicle_id", "vehicles", "A")],
)
def test_components_positions_and_cars_are_offered_from_their_own_sheet_and_others_may_be_typed(
    book, column, sheet, source
):
    rule = offered(book["repairs"], column)
    assert rule.formula1.startswith(f"OFFSET({sheet}!${source}$4,")
    assert not rule.showErrorMessage


def test_yes_and_no_are_offered_wherever_they_are_the_only_words(book):
    for name in SHEETS:
        for column in FEED[name].columns:
            if column.kind == "yes_no":
                assert offered(book[name], column.name).formula1 == '"yes,no"'


def test_a_typed_day_a_number_with_zeros_and_a_bare_year_stay_as_they_are_typed(book):
    for name in SHEETS:
        widths = list(book[name].column_dimensions.values())
        for column in FEED[name].columns:
            at = heading_of(book[name])[column.name].column
            style = next(each for each in widths if each.min <= at <= each.max)
            assert style.number_format == ("General" if column.kind in {"number", "whole"} else "@"), column.name
            assert style.width >= len(column.name)


def test_each_sheet_has_two_grey_examples_and_a_heading_that_stays_in_sight(book):
    for name in SHEETS:
        sheet = book[name]
        assert sheet.max_row == 3
        assert sheet.freeze_panes.endswith("2")
        for row in (2, 3):
            assert str(sheet.cell(row, 1).value).startswith("EXAMPLE")
            assert sheet.cell(row, 1).font.color.rgb == "FF8A8A8A"


def test_the_examples_say_only_what_the_loader_would_take(book):
    for name in SHEETS:
        heading = list(heading_of(book[name]))
        for row in book[name].iter_rows(min_row=2, max_row=3, values_only=True):
            filled = {column for column, value in zip(heading, row, strict=True) if value is not None}
            assert set(FEED[name].required) - {"line_no"} <= filled
            for column, value in zip(heading, row, strict=True):
                allowed = FEED[name].column(column).values
                assert value is None or not allowed or value in allowed


def test_nothing_in_it_can_run_or_leads_anywhere(template):
    with zipfile.ZipFile(template) as parts:
        assert not [name for name in parts.namelist() if "vba" in name.lower() or "external" in name.lower()]
        sheets = [parts.read(name).decode() for name in parts.namelist() if name.startswith("xl/worksheets/sheet")]
    assert len(sheets) == len(SHEETS)
    for sheet in sheets:
        assert "<f>" not in sheet
        assert "<hyperlink" not in sheet


def test_the_untouched_template_is_refused_in_words_and_leaves_no_ledger(template, tmp_path, capsys):
    data = tmp_path / "data"
    assert main(["load", str(template), "--data", str(data)]) == 1
    said = capsys.readouterr().err
    assert "there are only example rows in it" in said
    assert "type your cars and jobs below the grey rows" in said
    assert not data.exists()


def test_a_file_that_is_there_is_not_written_over(tmp_path, capsys):
    mine = tmp_path / "mine.xlsx"
    mine.write_bytes(b"forty jobs")
    assert main(["template", "--to", str(mine)]) == 1
    assert "is already there" in capsys.readouterr().err
    assert mine.read_bytes() == b"forty jobs"


@pytest.mark.parametrize(
    ("to", "says"), [("jobs.ods", "is no workbook"), ("no/such/folder/jobs.xlsx", "cannot be written")]
)
def test_a_name_that_cannot_be_used_is_refused_with_the_reason(to, says, tmp_path, capsys):
    assert main(["template", "--to", str(tmp_path / to)]) == 1
    said = capsys.readouterr().err
    assert says in said
    assert "next:" in said


def test_it_says_what_to_type_next(tmp_path, capsys):
    assert main(["template", "--to", str(tmp_path / "our jobs.xlsx")]) == 0
    assert f"next: wearledger load '{tmp_path / 'our jobs.xlsx'}'" in capsys.readouterr().out
