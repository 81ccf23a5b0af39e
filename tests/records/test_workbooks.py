"""Workbooks as programs and people write them: every sheet, every kind of cell; crafted ones are refused unread."""

import struct
import zipfile
from datetime import date, datetime, time

import openpyxl
import pytest
import xlsxwriter

from analytics.errors import FeedError
from analytics.records import judge, map_feed
from analytics.records.archive import HARMLESS_BYTES
from tests.records.feeds import LOADED_ON, mapped, rows

HEADING = ["record_id", "vehicle_id", "closed_on", "odometer", "component", "note"]


def written(path, lines, sheet="repairs"):
    """Write a sheet; a text that begins with = is a formula, a pair is a formula and its result."""
    with xlsxwriter.Workbook(path, {"default_date_format": "dd.mm.yyyy", "strings_to_formulas": False}) as book:
        page = book.add_worksheet(sheet)
        for row, line in enumerate(lines):
            for column, cell in enumerate(line):
                if isinstance(cell, tuple):
                    page.write_formula(row, column, cell[0], None, cell[1])
                else:
                    page.write(row, column, cell)
    return path


def repairs(path, *lines):
    found = map_feed(written(path, [HEADING, *lines])).tables["repairs"]
    return judge("repairs", found, loaded_on=LOADED_ON, settings={})


def with_part(book, name, content, into):
    """Copy a workbook's archive with one part added or replaced."""
    with zipfile.ZipFile(book) as old, zipfile.ZipFile(into, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            if part.filename != name:
                new.writestr(part.filename, old.read(part))
        new.writestr(name, content)
    return into


@pytest.fixture
def sound(tmp_path):
    return written(tmp_path / "sound.xlsx", [HEADING, ["J1", "car1", date(2024, 5, 2), 1200, "hose", "split"]])


def test_numbers_texts_booleans_dates_and_results_of_formulas_are_read_as_they_are_shown(tmp_path):
    found = repairs(
        tmp_path / "book.xlsx",
        ["007", "00123", date(2024, 5, 2), "61240", "hose", True],
        [8, 123, datetime(2024, 5, 2, 14, 30), ("=A2*2", 61240), ("=LOWER(1)", "hose"), 1.5],  # noqa: DTZ001 - a sheet knows no time zones
        [9, "car", 45414, 61240.0, "hose", ("=1=1", True)],
    )
    columns = ["record_id", "vehicle_id", "closed_on", "odometer", "component", "note"]
    day = date(2024, 5, 2)
    assert rows(found.accepted, *columns) == [
        ("007", "00123", day, 61240, "hose", "true"),
        ("8", "123", day, 61240, "hose", "1.5"),
        ("9", "car", day, 61240, "hose", "true"),
    ]


@pytest.mark.parametrize("sign", ["#NAME?", "#REF!", "#DIV/0!", "#N/A", "#VALUE!", "#NUM!", "#NULL!"])
def test_a_cell_with_an_error_is_set_aside_and_told(tmp_path, sign):
    found = repairs(tmp_path / "book.xlsx", ["J1", "car1", "2024-05-02", ("=X()", sign), ("=Y()", sign), "ok"])
    assert rows(found.set_aside, "column", "value") == [("odometer", sign), ("component", sign)]
    assert all("formula that went wrong" in says for says in found.set_aside["says"])
    assert rows(found.accepted, "odometer", "component", "note") == [(None, None, "ok")]


def test_an_error_where_a_car_must_stand_costs_the_row_and_names_the_sign(tmp_path):
    found = repairs(tmp_path / "book.xlsx", ["J1", ("=X()", "#REF!"), "2024-05-02"], ["J2", "car1", ("=X()", "#N/A")])
    assert rows(found.quarantined, "column", "value") == [("vehicle_id", "#REF!"), ("closed_on", "#N/A")]


def test_errors_are_found_in_a_table_that_does_not_begin_in_the_first_cell(tmp_path):
    path = tmp_path / "book.xlsx"
    lines = [[None] * 7, [None, None, *HEADING], [], [None, None, "J1", "car1", "2024-05-02", None, ("=X()", "#NAME?")]]
    found = map_feed(written(path, lines)).tables["repairs"]
    assert rows(found, "vehicle_id", "component", "odometer") == [("car1", "#NAME?", None)]


def test_an_error_that_an_export_to_csv_carried_as_text_is_set_aside_too(tmp_path):
    (tmp_path / "repairs.csv").write_text(
        "record_id,vehicle_id,closed_on,component,note\nJ1,car1,2024-05-02,#NAME?,#3 cylinder\n"
    )
    found = judge("repairs", map_feed(tmp_path).tables["repairs"], loaded_on=LOADED_ON, settings={})
    assert rows(found.set_aside, "column", "value") == [("component", "#NAME?")]
    assert found.accepted["note"].to_list() == ["#3 cylinder"]


def test_every_native_sheet_is_read_and_a_mapping_picks_others_by_name(tmp_path):
    path = tmp_path / "feed" / "shop.xlsx"
    path.parent.mkdir()
    book = openpyxl.Workbook()
    for name, lines in {
        "Vehicles": [["vehicle_id", "series"], ["car1", "S1"]],
        "repairs": [["record_id", "vehicle_id", "closed_on"], ["J1", "car1", date(2024, 5, 2)]],
        "Jobs 2023": [["No", "Car", "Day"], ["K7", "car1", date(2023, 5, 2)]],
    }.items():
        sheet = book.create_sheet(name)
        for line in lines:
            sheet.append(line)
    book.save(path)
    native = map_feed(path)
    assert {name: frame.height for name, frame in native.tables.items()} == {"vehicles": 1, "repairs": 1}
    assert any("Jobs 2023 names no native table" in note for note in native.notes)
    text = """
        [[repairs]]
        file = "shop.xlsx"
        sheet = "Jobs 2023"
        columns = { record_id = "No", vehicle_id = "Car", closed_on = "Day" }
        """
    assert rows(mapped(path.parent, text).tables["repairs"], "record_id", "closed_on") == [("K7", "2023-05-02")]


def test_a_cell_merged_over_two_rows_counts_for_the_first_and_the_second_row_waits_for_its_car(tmp_path):
    path = tmp_path / "book.xlsx"
    with xlsxwriter.Workbook(path) as book:
        page = book.add_worksheet("repairs")
        page.write_row(0, 0, ["record_id", "vehicle_id", "closed_on"])
        page.merge_range(1, 1, 2, 1, "car1")
        page.write_row(1, 2, ["2024-05-02"])
        page.write_row(2, 2, ["2024-05-03"])
        page.write_column(1, 0, ["J1", "J2"])
        page.write_row(5, 0, ["J3", "car2", "2024-05-04"])
    found = judge("repairs", map_feed(path).tables["repairs"], loaded_on=LOADED_ON, settings={})
    assert rows(found.accepted, "record_id", "row_no") == [("J1", 1), ("J3", 5)]
    assert found.quarantined["says"].to_list() == ["vehicle_id (the car) is empty"]


def test_a_time_of_day_is_no_day(tmp_path):
    found = repairs(tmp_path / "book.xlsx", ["J1", "car1", time(3, 4)])
    assert rows(found.quarantined, "column", "value") == [("closed_on", "03:04:00")]


def refusal(path):
    with pytest.raises(FeedError) as caught:
        map_feed(path)
    assert caught.value.where == path.name
    return caught.value.what


def test_a_formula_that_was_never_calculated_is_refused_with_its_cell(tmp_path):
    book = openpyxl.Workbook()
    book.active.title = "repairs"
    book.active.append(["record_id", "vehicle_id", "closed_on", "odometer"])
    book.active.append(["J1", "car1", date(2024, 5, 2), "=1+1"])
    book.save(tmp_path / "book.xlsx")
    assert refusal(tmp_path / "book.xlsx").startswith("cell D2 in xl/worksheets/sheet1.xml holds a formula without")


def test_a_formula_that_gave_an_empty_text_is_an_empty_cell(tmp_path):
    found = repairs(tmp_path / "book.xlsx", ["J1", "car1", "2024-05-02", None, None, ('=""', "")])
    assert found.accepted["note"].to_list() == [None]


def test_a_bomb_is_refused_by_what_it_states_before_anything_is_unpacked(tmp_path, sound):
    bomb = with_part(sound, "xl/media/image1.png", bytes(HARMLESS_BYTES + 1), tmp_path / "bomb.xlsx")
    assert bomb.stat().st_size < 100_000
    assert "would unpack" in refusal(bomb)


def test_a_bomb_that_understates_its_size_is_refused(tmp_path, sound):
    bomb = with_part(sound, "xl/worksheets/sheet1.xml", b"<x>" + b" " * 5_000_000, tmp_path / "bomb.xlsx")
    packed = bomb.read_bytes()
    assert packed.count(struct.pack("<I", 5_000_003)) == 2
    bomb.write_bytes(packed.replace(struct.pack("<I", 5_000_003), struct.pack("<I", 900)))
    assert refusal(bomb) == "the file is not a workbook, or is damaged"


@pytest.mark.parametrize("code", ["utf-8", "utf-16"])
def test_entities_are_refused(tmp_path, sound, code):
    xml = '<?xml version="1.0"?><!DOCTYPE a [<!ENTITY a "aaaa">]><worksheet>&a;</worksheet>'.encode(code)
    bad = with_part(sound, "xl/worksheets/sheet1.xml", xml, tmp_path / "bad.xlsx")
    assert "declares entities" in refusal(bad)


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("../../etc/cron.d/x", "names a part outside itself"),
        ("/etc/passwd", "names a part outside itself"),
        ("C:/x.xml", "names a part outside itself"),
        ("xl\\..\\x", "names a part outside itself"),
        ("XL/workbook.xml", "two parts of one name"),
        ("xl/vbaProject.bin", "carries macros"),
        ("xl/externalLinks/externalLink1.xml", "takes values from other workbooks"),
    ],
)
def test_parts_that_a_sheet_of_records_does_not_have_are_refused(tmp_path, sound, name, says):
    assert says in refusal(with_part(sound, name, b"<x/>", tmp_path / "bad.xlsx"))


@pytest.mark.parametrize("cell", ["XFD1048576", "XFD9000", "xfd1048576", "AAA99999"])
def test_a_cell_so_far_out_that_the_sheet_would_fill_the_memory_is_refused(tmp_path, sound, cell):
    xml = f'<worksheet><sheetData><row r="1"><c t="n" r="{cell}"><v>1</v></c></row></sheetData></worksheet>'.encode()
    said = refusal(with_part(sound, "xl/worksheets/sheet1.xml", xml, tmp_path / "bad.xlsx"))
    assert f"cell {cell.upper()} in xl/worksheets/sheet1.xml lies so far out" in said


def test_two_cells_that_are_far_out_together_are_refused(tmp_path, sound):
    cells = '<c r="ZZ1"><v>1</v></c><c r="A1048576"><v>1</v></c>'
    xml = f'<worksheet><sheetData><row r="1">{cells}</row></sheetData></worksheet>'.encode()
    assert "lies so far out" in refusal(with_part(sound, "xl/worksheets/sheet1.xml", xml, tmp_path / "bad.xlsx"))


LINKED = (
    b'<Relationships><Relationship Id="rId9" Type="http://x/relationships/%s" Target="file:///etc/passwd" '
    b'TargetMode="External"/></Relationships>'
)


def test_a_link_to_another_file_is_refused_wherever_it_is_named(tmp_path, sound):
    name = "xl/_rels/workbook.xml.rels"
    assert "from other workbooks" in refusal(
        with_part(sound, name, LINKED % b"externalLinkPath", tmp_path / "bad.xlsx")
    )


def test_a_link_to_click_on_is_no_link_to_values(tmp_path, sound):
    name = "xl/worksheets/_rels/sheet1.xml.rels"
    assert repairs_in(map_feed(with_part(sound, name, LINKED % b"hyperlink", tmp_path / "good.xlsx"))) == 1


def repairs_in(mapped):
    return mapped.tables["repairs"].height


def test_a_password_an_old_workbook_and_any_other_bytes_are_told_apart(tmp_path):
    old = bytes.fromhex("d0cf11e0a1b11ae1") + bytes(600)
    for content, says in [
        (old + "EncryptedPackage".encode("utf-16-le"), "is protected by a password"),
        (old, "of the old binary kind"),
        (b"hello", "is not a workbook"),
        (b"PK\x03\x04 hello", "is not a workbook"),
    ]:
        (tmp_path / "book.xlsx").write_bytes(content)
        assert says in refusal(tmp_path / "book.xlsx")


def test_a_macro_workbook_in_a_folder_is_refused_not_passed_over(tmp_path, sound):
    with_part(sound, "xl/vbaProject.bin", b"x", tmp_path / "jobs.xlsm")
    sound.unlink()
    with pytest.raises(FeedError, match="carries macros"):
        map_feed(tmp_path)


def test_a_part_with_an_encrypted_flag_is_refused(tmp_path, sound):
    packed = bytearray(sound.read_bytes())
    central = packed.index(b"PK\x01\x02")
    packed[central + 8] |= 1
    (tmp_path / "locked.xlsx").write_bytes(packed)
    assert refusal(tmp_path / "locked.xlsx") == "parts of the workbook are encrypted"
