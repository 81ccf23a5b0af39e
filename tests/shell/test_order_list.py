"""The order list: what the snapshot says is what the workbook and the CSV hold, typed and harmless."""

import csv
import io
import zipfile
from datetime import date

import fastexcel
import polars as pl
import pytest

from analytics.cli import main
from analytics.errors import OutputError, SnapshotError
from analytics.order_file import as_csv, as_workbook, write_order_list
from analytics.order_list import NO_SUPPLIER, SAFETY, order_list, sentences
from analytics.snapshot import latest_path
from tests.dashboards.snapshot_rows import AS_OF, frame, group, model_row, write
from tests.snapshot_tables import table

BASE = {"horizon_days": 55.0, "service_level": 0.9, "method": "pooled rate", "basis": "rate", "repairs": 9}
BASE |= {"car_years": 90.0, "on_order": 0.0, "reserved": 1.0, "minimum_order": 1, "pack_size": 1}
BASE |= {"counted_on": date(2026, 11, 20), "components": "thermostat", "on_hand": 1.0, "reorder_point": 4}
RUBBER = {"supplier": "rubber works", "currency": "EUR", "unit_cost": 3.35, "lead_time_days": 7.0}
ROWS = [
    {"part_no": "007", "order_quantity": 12, "pack_size": 6, "shelf_life_months": 84.0, **RUBBER}
    | {"looks_like": "007-B", "fits": "S1; S2", "also_numbers": "006", "components": "coolant hose"}
    | {"on_hand_aged": 2.0, "available": 0.0},
    {"part_no": "=1+1", "order_quantity": 1, **RUBBER, "supplier": "@works", "reason": "-1+2", "currency": None}
    | {"components": "brake hose", "counted_on": date(2026, 6, 1)},
    {"part_no": "B", "order_quantity": 3, "unit_cost": None, "lead_time_days": None, "minimum_order": 50},
    {"part_no": "enough", "order_quantity": 0, **RUBBER},
    {"part_no": "uncounted", "on_hand": None, "order_quantity": None, "counted_on": None},
    {"part_no": "+refused", "order_quantity": None, "reorder_point": None, "method": "too little to say"}
    | {"components": "brake hose", "shelf_life_months": None},
]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    rows = [{**BASE, "reason": f"Why {row['part_no']}.", **row} for row in ROWS]
    critical = model_row(group("brake hose"), 9, 30, 4000.0, safety_critical=True, default_grouping=True)
    return write(tmp_path_factory.mktemp("orders"), {"reorder": rows, "life_model": [critical]}, "2026-11-24-orders01")


@pytest.fixture(scope="module")
def orders(folder):
    return order_list(latest_path(folder))


def opened(made, sheet):
    return fastexcel.read_excel(made).load_sheet(sheet).to_polars()


def same(written, rows):
    """A workbook has one kind of number, so whole ones come back as such or as decimals."""
    assert written.columns == rows.columns
    for name in rows.columns:
        if rows[name].null_count() < rows.height:
            assert written[name].dtype.is_numeric() == rows[name].dtype.is_numeric(), name
            assert (written[name].dtype in (pl.Date, pl.Datetime)) == (rows[name].dtype == pl.Date), name
            assert written[name].cast(rows[name].dtype).to_list() == rows[name].to_list(), name


def test_only_what_is_to_be_ordered_is_listed_by_supplier_and_who_is_not_stated_last(orders):
    assert orders.rows.select("supplier", "part").rows() == [
        ("@works", "=1+1"),
        ("rubber works", "007"),
        (NO_SUPPLIER, "B"),
    ]
    assert (orders.parts, orders.uncounted) == (6, 1)


def test_packs_sums_and_the_day_of_delivery_by_hand(orders):
    """12 parts in packs of 6 are 2 packs; 12 x 3.35 = 40.20; 24 November and 7 days are 1 December."""
    row = orders.rows.row(by_predicate=pl.col("part") == "007", named=True)
    assert (row["order"], row["packs"], row["sum"], row["delivery about"]) == (12, 2, 40.2, date(2026, 12, 1))
    unknown = orders.rows.row(by_predicate=pl.col("part") == "B", named=True)
    assert unknown["sum"] is unknown["delivery about"] is None


def test_the_workbook_holds_the_list_as_it_is(orders):
    same(opened(as_workbook(orders), "order"), orders.rows)
    sums = opened(as_workbook(orders), "by supplier")
    assert sums.select("supplier", "pieces", "sum", "without a cost").rows() == [
        ("@works", 1, 3.35, 0),
        (NO_SUPPLIER, 3, None, 1),
        ("rubber works", 12, 40.2, 0),
    ]


def test_the_demo_s_list_comes_back_from_the_workbook_and_adds_up_with_the_snapshot(demo_dir):
    listed = order_list(latest_path(demo_dir))
    written = opened(as_workbook(listed), "order")
    same(written, listed.rows)
    wanted = table(demo_dir, "reorder").filter(pl.col("order_quantity") > 0)
    assert sorted(written["part"]) == sorted(wanted["part_no"])
    assert sorted(written["order"]) == sorted(wanted["order_quantity"])
    assert written["sum"].sum() == pytest.approx((wanted["order_quantity"] * wanted["unit_cost"]).sum())
    assert NO_SUPPLIER not in written["supplier"].to_list()


def test_nothing_in_a_workbook_is_a_formula_and_the_heading_stays_in_sight(orders):
    parts = zipfile.ZipFile(io.BytesIO(as_workbook(orders)))
    sheets = [parts.read(name).decode() for name in parts.namelist() if name.startswith("xl/worksheets/sheet")]
    assert len(sheets) == 4
    assert not any("<f>" in sheet or "<hyperlink" in sheet for sheet in sheets)
    assert all('state="frozen"' in sheet for sheet in sheets[:3])
    assert all("<col " in sheet for sheet in sheets)
    assert 'quotePrefix="1"' in parts.read("xl/styles.xml").decode()
    assert not any(word in sheet for sheet in sheets for word in ("NaN", "#NUM", "#DIV", "inf<"))


def test_csv_holds_the_same_rows_and_nothing_that_a_spreadsheet_would_run(orders):
    rows = list(csv.DictReader(io.StringIO(as_csv(orders).decode())))
    assert [row["part"] for row in rows] == ["'=1+1", "007", "B", "'+refused", "uncounted"]
    assert rows[0]["supplier"] == "'@works"
    assert rows[0]["why"] == "'-1+2"
    assert [row["delivery about"] for row in rows] == ["2026-12-01", "2026-12-01", "", "", ""]
    assert not any(value[:1] in "=@+\t" for row in rows for value in row.values() if value)


def test_a_part_of_which_no_order_can_be_told_stands_apart_with_the_reason_in_either_file(orders):
    same(opened(as_workbook(orders), "no order told"), orders.untold)
    untold = opened(as_workbook(orders), "no order told")
    assert untold.select("part", "why").rows() == [("+refused", "Why +refused."), ("uncounted", "Why uncounted.")]
    assert untold["reorder point"].to_list() == [None, 4]
    rows = list(csv.DictReader(io.StringIO(as_csv(orders).decode())))[3:]
    assert [(row["order"], row["reorder point"], row["why"]) for row in rows] == [
        ("", "", "Why +refused."),
        ("", "4", "Why uncounted."),
    ]


def test_a_long_list_of_parts_without_an_order_is_cut_and_says_where_all_of_them_are(tmp_path):
    rows = [{**BASE, "part_no": f"A{n:02d}", "on_hand": None, "reason": "Why."} for n in range(13)]
    rows.append({**BASE, "part_no": "B", "order_quantity": 0, "reason": "Why."})
    said = sentences(order_list(latest_path(write(tmp_path, {"reorder": rows}, "2026-11-24-orders06"))))
    assert said[1] == "no order can be told of 13 parts:"
    assert said[11:] == ["  A09, thermostat: Why.", "  and 3 more, all of them in a file: restock --to FILE.xlsx"]


def test_the_same_snapshot_gives_the_same_bytes(folder, orders):
    assert as_workbook(order_list(latest_path(folder))) == as_workbook(orders)


def test_what_to_look_at_first_is_said_of_each_part(orders):
    told = dict(orders.rows.select("part", "check first").iter_rows())
    assert "Looks alike and does not fit: 007-B." in told["007"]
    assert "Keeps 84 months from the day it was made" in told["007"]
    assert "2 on the shelf past their shelf life are not counted: take them out, and fit none of them." in told["007"]
    assert SAFETY not in told["007"]
    assert told["B"].startswith("The smallest order is 50, more than is used before it ages")
    assert told["=1+1"].startswith("Counted 176 days before: count again. No shelf life is stated")
    assert SAFETY in told["=1+1"]


def test_rule_39_no_list_tells_how_long_a_critical_part_may_run(orders):
    assert orders.untold["check first"][0].endswith(SAFETY)
    assert orders.untold["check first"][1] is None
    brake = " ".join(orders.rows.filter(pl.col("part") == "=1+1")["check first"])
    assert "no leave to run the fitted one longer" in brake
    assert "inspect by the maker's manual" in brake


def test_the_command_prints_the_list_and_writes_either_file(folder, tmp_path, capsys):
    assert main(["restock", "--data", str(folder)]) == 0
    told = capsys.readouterr().out
    assert "3 parts to order of 6 known" in told
    assert "rubber works, 40.20 EUR" in told
    assert "12 of 007, coolant hose (series S1; S2): Why 007." in told
    assert "no order can be told of 2 parts:\n  +refused, brake hose: Why +refused." in told
    for name in ("order.xlsx", "order.csv"):
        assert main(["restock", "--data", str(folder), "--to", str(tmp_path / name)]) == 0
        assert (tmp_path / name).stat().st_size > 0
        said = capsys.readouterr()
        assert "3 parts to order" in said.out
        assert "no order can be told of 2 parts: they stand apart, with the reason" in said.err


@pytest.mark.parametrize(
    ("name", "says"), [("order.pdf", "neither a workbook nor CSV"), ("there.csv", "already there")]
)
def test_another_kind_of_file_and_one_that_is_there_are_refused(name, says, orders, tmp_path):
    (tmp_path / "there.csv").write_text("mine")
    with pytest.raises(OutputError, match=says):
        write_order_list(orders, tmp_path / name)
    assert (tmp_path / "there.csv").read_text() == "mine"
    assert len(list(tmp_path.iterdir())) == 1


def test_without_any_stock_count_the_list_is_refused_in_words(tmp_path):
    row = {**BASE, "part_no": "A", "on_hand": None, "reason": "Why."}
    with pytest.raises(SnapshotError, match="no part has a stock count"):
        order_list(latest_path(write(tmp_path, {"reorder": [row]}, "2026-11-24-orders02")))


def test_where_costs_set_a_level_for_each_part_the_list_says_so(tmp_path):
    rows = [{**BASE, "part_no": p, "service_level": level, "reason": "Why."} for p, level in (("A", 0.8), ("B", 0.955))]
    listed = order_list(latest_path(write(tmp_path, {"reorder": rows}, "2026-11-24-orders05")))
    assert dict(listed.told())["service level"] == "0.8 to 0.95, by the costs of each part"
    assert "0.8 to 0.95" in str(opened(as_workbook(listed), "about").rows())


def test_nothing_to_order_is_a_list_too(tmp_path):
    row = {**BASE, "part_no": "A", "order_quantity": 0, "reason": "Why."}
    listed = order_list(latest_path(write(tmp_path, {"reorder": [row]}, "2026-11-24-orders03")))
    assert sentences(listed) == [f"as of {AS_OF}: 0 parts to order of 1 known"]
    assert opened(as_workbook(listed), "order").height == 0


def test_a_snapshot_of_before_has_its_order_without_supplier_and_cost(tmp_path, monkeypatch):
    row = frame("reorder", [{**BASE, "part_no": "A", "order_quantity": 2, "reason": "Why."}])
    old = row.drop("fits", "also_numbers", "supplier", "lead_time_days", "unit_cost", "currency", "counted_on")
    folder = write(tmp_path, {"reorder": [{**BASE, "part_no": "A", "reason": "Why."}]}, "2026-11-24-orders04")
    monkeypatch.setattr(
        "analytics.order_list.read_table", lambda _, name: old if name == "reorder" else table(folder, name)
    )
    listed = order_list(latest_path(folder))
    assert listed.rows.select("supplier", "order", "sum").rows() == [(NO_SUPPLIER, 2, None)]
