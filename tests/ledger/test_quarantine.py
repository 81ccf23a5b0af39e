"""Quarantine: what waits, how it is mended and closed, and the workbook that goes out and comes back."""

import polars as pl
import pytest

from analytics.ledger import load, open_ledger, quarantine_rows, write_quarantine
from analytics.records import map_feed
from tests.ledger.feeds import CAR, LOADED_ON, ask, job, put, rows_of, tell

BAD = job("1", action="polished up", finding="=1+1", note="+49 @home -x", cause="0012")


def ends(data):
    return ask(data, "select quarantine_id, status from quarantine order by quarantine_id")


def mend(data, path, **changed):
    """Write the quarantine, change cells of the sheet ``repairs``, and load it again."""
    with open_ledger(data, write=False) as connection:
        written = write_quarantine(connection, path)
    sheet = pl.read_excel(path, sheet_name="repairs", infer_schema_length=0)
    sheet = sheet.with_columns(**{name: pl.lit(value, dtype=pl.String) for name, value in changed.items()})
    sheet.write_excel(path, worksheet="repairs")
    return written, load(data, map_feed(path), loaded_on=LOADED_ON)


def test_every_open_row_is_told_with_what_to_do(tmp_path):
    put(tmp_path, source="shop", repairs=[job(), BAD])
    row = tell(tmp_path, quarantine_rows).row(0, named=True)
    assert (row["table"], row["file"], row["row_no"], row["column"]) == ("repairs", "repairs.csv", 2, "action")
    assert (row["value"], row["source"], row["vehicle_id"]) == ("polished up", "shop", "A")
    assert "is not one of: replaced" in row["says"]


def test_a_row_that_could_not_be_split_has_no_column(tmp_path):
    rows = rows_of("repairs", [{}, job(), {}]).with_columns(unread=pl.Series(["one quote too many", None, "again"]))
    put(tmp_path, repairs=rows)
    waiting = tell(tmp_path, quarantine_rows)
    assert waiting.select("column", "row_no", "says").rows() == [
        ("whole row", 1, "one quote too many"),
        ("whole row", 3, "again"),
    ]
    put(tmp_path, repairs=[job("1"), job(), job("3")])
    assert ends(tmp_path) == [(1, "mended"), (2, "mended")]


def with_broken(at, *jobs, text="18,1,A,2020-03-04,pump,replaced,failure,3 too many"):
    """Rows of a file, of which the one at `at` could not be split."""
    full = [*jobs[: at - 1], {}, *jobs[at - 1 :]]
    texts = [None if job else text for job in full]
    rows = rows_of("repairs", full)
    return rows.with_columns(pl.Series("unread", texts).alias("unread"), pl.Series("unread text", texts))


OTHERS = [job("15"), job("16"), job("18", "2")]


def test_a_row_that_could_not_be_split_is_known_by_its_text_wherever_it_stands(tmp_path):
    put(tmp_path, repairs=with_broken(2, *OTHERS))
    for at, others in ((4, OTHERS), (3, [job("14"), *OTHERS]), (1, [job("17")])):
        assert put(tmp_path, repairs=with_broken(at, *others)).count("quarantined") == 1
        assert ends(tmp_path) == [(1, "open")]


def test_a_row_that_could_not_be_split_is_mended_wherever_it_stands(tmp_path):
    mended = job("18", "1", component="pump")
    put(tmp_path, repairs=with_broken(2, *OTHERS))
    assert put(tmp_path, repairs=[job("14"), *OTHERS, job("18", "3")]).mended == 0
    assert put(tmp_path, repairs=[job("14"), job("13"), *OTHERS, mended]).mended == 1
    assert ends(tmp_path) == [(1, "mended")]


def test_a_mended_sheet_closes_its_rows_under_their_own_source(tmp_path):
    put(tmp_path, source="shop", repairs=[job(), BAD])
    written, report = mend(tmp_path, tmp_path / "mend.xlsx", action="repaired")
    assert (written, report.mended, report.count("accepted")) == (1, 1, 1)
    assert ends(tmp_path) == [(1, "mended")]
    assert ask(tmp_path, "select line_id, action from repairs where record_id = '1'") == [("shop:1/1", "repaired")]


def test_what_the_sheet_holds_comes_back_to_the_letter(tmp_path):
    put(tmp_path, repairs=[BAD])
    path = tmp_path / "mend.xlsx"
    mend(tmp_path, path, action="repaired")
    assert ask(tmp_path, "select finding, note, cause from repairs") == [("=1+1", "+49 @home -x", "0012")]


def test_no_cell_of_the_sheet_is_a_formula_a_link_or_a_number(tmp_path):
    openpyxl = pytest.importorskip("openpyxl")
    put(tmp_path, repairs=[{**BAD, "symptom": "http://x.example", "location": "-3"}])
    with open_ledger(tmp_path, write=False) as connection:
        write_quarantine(connection, tmp_path / "mend.xlsx")
    cells = [cell for row in openpyxl.load_workbook(tmp_path / "mend.xlsx")["repairs"].iter_rows() for cell in row]
    assert {cell.data_type for cell in cells if cell.value is not None} == {"s"}
    assert not any(cell.hyperlink for cell in cells)
    # without it, whoever presses F2 and Enter in a spreadsheet makes a formula of the text
    assert all(cell.quotePrefix for cell in cells if cell.row > 1)
    assert "=1+1" in [cell.value for cell in cells]


def test_a_sheet_that_is_loaded_unmended_changes_nothing(tmp_path):
    put(tmp_path, source="shop", repairs=[BAD])
    _, report = mend(tmp_path, tmp_path / "mend.xlsx")
    assert (report.count("quarantined"), report.mended) == (1, 0)
    assert ends(tmp_path) == [(1, "open")]


def test_a_sheet_that_is_mended_badly_waits_in_its_new_words_only(tmp_path):
    put(tmp_path, source="shop", repairs=[BAD])
    _, report = mend(tmp_path, tmp_path / "mend.xlsx", action="waxed")
    assert (report.count("quarantined"), report.replaced) == (1, 1)
    assert ends(tmp_path) == [(1, "withdrawn"), (2, "open")]
    assert tell(tmp_path, quarantine_rows).select("value", "source").rows() == [("waxed", "shop")]
    mend(tmp_path, tmp_path / "mend.xlsx", action="repaired")
    assert ends(tmp_path) == [(1, "withdrawn"), (2, "mended")]
    assert ask(tmp_path, "select line_id from repairs") == [("shop:1/1",)]


def test_a_mended_row_is_read_with_the_settings_of_its_own_export(tmp_path):
    put(tmp_path, source="shop", settings={"odometer_unit": "mi"}, repairs=[{**BAD, "odometer": "500"}])
    mend(tmp_path, tmp_path / "mend.xlsx", action="waxed")
    mend(tmp_path, tmp_path / "mend.xlsx", action="repaired")
    assert ask(tmp_path, "select odometer, odometer_unit from repairs") == [(500.0, "mi")]


def test_an_export_that_still_brings_the_bad_row_does_not_open_it_again(tmp_path):
    put(tmp_path, source="shop", repairs=[BAD])
    mend(tmp_path, tmp_path / "mend.xlsx", action="repaired")
    again = put(tmp_path, source="shop", vehicles=[CAR], repairs=[BAD])
    assert again.already_known
    assert ends(tmp_path) == [(1, "mended")]
    assert ask(tmp_path, "select action from repairs") == [("repaired",)]


def test_a_number_taken_twice_can_be_mended_on_the_sheet(tmp_path):
    put(tmp_path, repairs=[job()])
    put(tmp_path, repairs=[job(opened_on=None, closed_on="2021-03-04")])
    _, report = mend(tmp_path, tmp_path / "mend.xlsx", record_id="2021-17")
    assert report.mended == 1
    assert ask(tmp_path, "select record_id from repairs order by all") == [("17",), ("2021-17",)]


@pytest.mark.parametrize(
    ("mended", "in_file"),
    [
        (job("1", action="repaired"), "other.csv"),  # the same key
        (job("content-2", action="repaired"), "repairs.csv"),  # the same place, a number formed anew
    ],
)
def test_a_row_mended_in_the_source_closes_it(tmp_path, mended, in_file):
    put(tmp_path, source="shop", repairs=[job("1", action="polished up")])
    assert put(tmp_path, source="shop", repairs=[mended], file=in_file).mended == 1
    assert ends(tmp_path) == [(1, "mended")]


def test_the_same_place_in_another_export_closes_nothing(tmp_path):
    put(tmp_path, source="shop", repairs=[job("1", action="polished up")])
    put(tmp_path, source="shop", repairs=[job("2", component="pump")])
    put(tmp_path, source="branch", repairs=[job("1")])
    assert ends(tmp_path) == [(1, "open")]


def test_a_car_that_becomes_known_mends_its_lines_when_they_come_again(tmp_path):
    rows = [job("1", vehicle_id="B")]
    put(tmp_path, repairs=rows)
    put(tmp_path, vehicles=[CAR, {"vehicle_id": "B", "series": "first"}], repairs=rows)
    assert ends(tmp_path) == [(1, "mended")]


def test_the_line_that_holds_a_contested_number_does_not_close_the_other(tmp_path):
    put(tmp_path, repairs=[job()])
    put(tmp_path, repairs=[job(opened_on=None, closed_on="2021-03-04")])
    put(tmp_path, repairs=[job(cost="5")], file="other.csv")
    assert ends(tmp_path) == [(1, "open")]


def test_a_bad_row_stays_open_while_the_feed_still_brings_it_beside_a_good_one(tmp_path):
    put(tmp_path, repairs=[BAD])
    put(tmp_path, repairs=[job("1", finding="torn"), BAD])
    assert ends(tmp_path) == [(1, "open")]


def test_the_same_bad_row_of_two_sources_waits_twice(tmp_path):
    put(tmp_path, source="shop", repairs=[BAD])
    put(tmp_path, source="branch", repairs=[BAD])
    assert tell(tmp_path, quarantine_rows)["source"].to_list() == ["shop", "branch"]


def test_a_row_without_a_number_is_closed_by_no_other_row_without_one(tmp_path):
    put(tmp_path, repairs=[job(None, component="pump"), job(None, action="polished up")])
    put(tmp_path, repairs=[job(None, component="valve")], file="other.csv")
    assert [status for _, status in ends(tmp_path)] == ["open", "open", "open"]


def test_a_bad_row_that_comes_back_after_it_was_right_is_told_again(tmp_path):
    put(tmp_path, source="shop", repairs=[BAD])
    put(tmp_path, source="shop", repairs=[job("1")])
    put(tmp_path, source="shop", repairs=[BAD])
    assert ends(tmp_path) == [(1, "mended"), (2, "open")]


def test_sheets_of_several_tables_come_back_together(tmp_path):
    put(
        tmp_path,
        repairs=[job("1", vehicle_id="B")],
        readings=[{"vehicle_id": "B", "read_on": "2020-01-01", "odometer": "5", "source": "visit"}],
        vehicles=[CAR, {"vehicle_id": "B"}],
    )
    with open_ledger(tmp_path, write=False) as connection:
        assert write_quarantine(connection, tmp_path / "mend.xlsx") == 3
    sheets = pl.read_excel(tmp_path / "mend.xlsx", sheet_id=0, infer_schema_length=0)
    assert sheets["readings"]["source"].to_list() == ["visit"]
    import xlsxwriter

    with xlsxwriter.Workbook(str(tmp_path / "mended.xlsx")) as book:
        for name, sheet in sheets.items():
            series = {"series": pl.lit("first")} if name == "vehicles" else {}
            sheet.with_columns(**series).write_excel(book, worksheet=name)
    report = load(tmp_path, map_feed(tmp_path / "mended.xlsx"), loaded_on=LOADED_ON)
    assert (report.mended, report.count("accepted")) == (3, 3)


def test_an_empty_quarantine_gives_an_empty_workbook(tmp_path):
    put(tmp_path, repairs=[job()])
    with open_ledger(tmp_path, write=False) as connection:
        assert write_quarantine(connection, tmp_path / "mend.xlsx") == 0
    assert (tmp_path / "mend.xlsx").exists()


HEADING = "record_id,vehicle_id,closed_on,component,action,reason\n"
WHOLE = "1,A,2020-03-04,hose,replaced,failure\n"
SPLIT = "1,A,2020-03-04,hose,clamp,replaced,failure\n"


def put_text(data, folder, text, name="repairs.csv"):
    folder.mkdir(exist_ok=True)
    (folder / "vehicles.csv").write_text("vehicle_id,series\nA,first\n", encoding="utf-8")
    (folder / name).write_text(HEADING + text, encoding="utf-8")
    return load(data, map_feed(folder), loaded_on=LOADED_ON)


def test_a_row_that_could_not_be_split_waits_once_with_its_text_and_is_closed_by_the_mended_file(tmp_path):
    data, folder = tmp_path / "data", tmp_path / "feed"
    put_text(data, folder, SPLIT + "2,A,2020-04-04,pump,replaced,failure\n")
    (waiting,) = tell(data, quarantine_rows).rows(named=True)
    assert (waiting["column"], waiting["row_no"], waiting["value"]) == ("whole row", 1, SPLIT.strip())
    assert put_text(data, folder, SPLIT + "2,A,2020-04-04,pump,replaced,failure\n").already_known
    put_text(data, folder, SPLIT + "2,A,2020-04-04,valve,replaced,failure\n")
    assert ends(data) == [(1, "open")]
    put_text(data, folder, SPLIT.replace("clamp", "clip") + "2,A,2020-04-04,valve,replaced,failure\n")
    assert ends(data) == [(1, "withdrawn"), (2, "open")]
    assert put_text(data, folder, WHOLE).mended == 1
    assert ends(data) == [(1, "withdrawn"), (2, "mended")]


def test_another_export_under_the_same_file_name_closes_no_row_that_could_not_be_split(tmp_path):
    data, folder = tmp_path / "data", tmp_path / "feed"
    put_text(data, folder, SPLIT)
    put_text(data, folder, "77,A,2021-09-09,valve,inspected,planned\n")
    put_text(data, folder, "78,A,2021-09-10,valve,inspected,planned\n" + SPLIT.replace("1,A", "5,A"))
    assert ends(data) == [(1, "open"), (2, "open")]


@pytest.mark.parametrize(("closed", "mended"), [("2020-04-04", 1), ("2020-03-05", 0), ("2019-03-04", 0)])
def test_a_job_of_another_day_closes_no_row_that_could_not_be_split(tmp_path, closed, mended):
    put_text(tmp_path / "data", tmp_path / "feed", SPLIT)  # a month may stand in words
    assert put_text(tmp_path / "data", tmp_path / "feed", WHOLE.replace("2020-03-04", closed)).mended == mended


def test_a_row_that_could_not_be_split_is_mended_on_the_sheet(tmp_path):
    data, folder = tmp_path / "data", tmp_path / "feed"
    put_text(data, folder, SPLIT)
    cells = {"record_id": "1", "vehicle_id": "A", "closed_on": "2020-03-04", "component": "hose", "action": "replaced"}
    _, report = mend(data, tmp_path / "mend.xlsx", **cells)
    assert (report.mended, report.count("accepted")) == (1, 1)
    assert ends(data) == [(1, "mended")]
    assert put_text(data, folder, SPLIT).already_known


def test_a_text_of_many_words_that_could_not_be_split_costs_no_more_than_its_length(tmp_path):
    text = "18,1,A," + "x," * 100_000
    put(tmp_path, repairs=with_broken(2, *OTHERS, text=text))
    assert put(tmp_path, repairs=with_broken(3, job("17"), *OTHERS, text=text)).mended == 0
    assert ends(tmp_path) == [(1, "open")]


def test_a_day_that_nobody_touched_in_the_sheet_waits_for_the_same_reason_as_before(tmp_path):
    put(tmp_path / "data", repairs=[job("1", closed_on="03/04/2019")])
    before = tell(tmp_path / "data", quarantine_rows).select("quarantine_id", "value", "says")
    written, report = mend(tmp_path / "data", tmp_path / "mend.xlsx")
    assert (written, report.mended) == (1, 0)
    assert tell(tmp_path / "data", quarantine_rows).select("quarantine_id", "value", "says").equals(before)
    assert mend(tmp_path / "data", tmp_path / "mend.xlsx", closed_on="2019-04-03")[1].mended == 1


def test_what_the_sheet_tells_beside_the_rows_is_not_said_to_be_unread(tmp_path):
    put(tmp_path / "data", repairs=[job("1", action="polished up")])
    with open_ledger(tmp_path / "data", write=False) as connection:
        write_quarantine(connection, tmp_path / "mend.xlsx")
    assert not any("columns not read" in note for note in map_feed(tmp_path / "mend.xlsx").notes)
