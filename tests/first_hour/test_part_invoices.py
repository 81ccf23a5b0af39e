"""Part invoices alone: no cars and no jobs are known, or a car is named on some of them."""

from datetime import date

import openpyxl
import polars as pl
import pytest

from analytics.cli import main
from tests.dashboards.visits import PAGES, opened, said
from tests.first_hour.feeds import analysed
from tests.snapshot_tables import table

INVOICES = """part_no,sold_on,quantity,lost
SL-1102,2022-03-01,1,
SL-7102,2024-03-01,2,
SL-7102,2024-09-01,1,
SL-7102,2025-05-01,1,
SL-7102,2025-11-01,2,yes
SL-4101,2026-02-27,1,
SL-1102,2026-02-28,1,
"""
CARS = "vehicle_id,series,built_on\nblue coupe,S2,1974\ngrey saloon,S3,1984\n"
PARTS = "part_no,component,lead_time_days\nSL-7102,flap actuator,10\nSL-1102,coolant hose,21\n"
NAMED = """part_no,sold_on,quantity,vehicle_id,lost
SL-7102,2022-02-01,1,blue coupe,
SL-1102,2023-03-01,1,blue coupe,
SL-7102,2024-03-01,1,blue coupe,
SL-7102,2024-03-05,2,,
SL-1102,2024-09-01,1,blue coupe,
SL-7102,2025-03-01,1,grey saloon,yes
SL-1102,2025-04-01,1,grey saloon,
SL-7102,2025-05-01,1,nobody,
"""


@pytest.fixture(scope="module")
def alone(tmp_path_factory):
    return analysed(tmp_path_factory.mktemp("alone"), sales=INVOICES)


@pytest.fixture(scope="module")
def named(tmp_path_factory):
    return analysed(tmp_path_factory.mktemp("named"), vehicles=CARS, parts=PARTS, sales=NAMED)


def of_part(data, part_no):
    return table(data, "reorder").filter(pl.col("part_no") == part_no).row(0, named=True)


def test_sales_alone_give_the_use_of_every_part_in_a_month(alone):
    assert table(alone, "meta").filter(pl.col("name") == "as_of")["value"].item() == "2026-02-28"
    row = of_part(alone, "SL-7102")
    # six in the last three years of four: the lost ones were asked for too
    assert (row["sales"], row["sales_years"]) == (6, 3.0)
    assert row["use_per_month"] == pytest.approx(6 / 36)
    assert row["basis"] == "rate of sales, no lead time"
    assert "6 sold or asked for in 3.0 years, 0.17 a month" in row["reason"]


def test_a_workbook_with_the_one_sheet_sales_is_as_good_as_a_file(alone, tmp_path):
    rows = [line.split(",") for line in INVOICES.splitlines()[1:]]
    book = openpyxl.Workbook()
    book.active.title = "sales"
    book.active.append(INVOICES.splitlines()[0].split(","))
    for part_no, day, quantity, lost in rows:
        book.active.append([part_no, date.fromisoformat(day), int(quantity), lost or None])
    book.save(tmp_path / "invoices.xlsx")
    assert main(["load", str(tmp_path / "invoices.xlsx"), "--data", str(tmp_path / "data")]) == 0
    assert main(["analyse", "--data", str(tmp_path / "data")]) == 0
    assert table(tmp_path / "data", "reorder").equals(table(alone, "reorder"))


def test_without_any_car_a_history_is_refused_with_what_to_load(alone, capsys):
    assert main(["history", "blue coupe", "--data", str(alone)]) == 1
    assert "load vehicles and repairs" in capsys.readouterr().err


def test_a_part_first_sold_yesterday_was_not_sold_in_the_years_before(alone):
    assert of_part(alone, "SL-4101")["use_per_month"] == pytest.approx(1 / 36)


def test_what_sold_before_the_last_three_years_is_no_rate_of_today(alone):
    assert of_part(alone, "SL-1102")["sales"] == 1


def test_the_whole_distribution_is_that_of_the_rate(alone):
    demand = table(alone, "demand").filter((pl.col("part_no") == "SL-7102") & (pl.col("horizon_days") == 365))
    assert demand["probability"].sum() == pytest.approx(1)
    mean = (demand["quantity"] * demand["probability"]).sum()
    # a gamma-Poisson of 6 in 3 years with half a sale as prior, over 365 days
    assert mean == pytest.approx(6.5 / 3 * 365 / 365.25, rel=1e-6)
    none = demand.filter(pl.col("quantity") == 0)["probability"].item()
    assert none == pytest.approx((3 / (3 + 365 / 365.25)) ** 6.5, rel=1e-6)


def test_with_a_count_and_a_lead_time_sales_alone_give_an_order(tmp_path):
    stock = "part_no,counted_on,on_hand\nSL-7102,2026-02-28,0\n"
    row = of_part(analysed(tmp_path, sales=INVOICES, parts=PARTS, stock=stock), "SL-7102")
    assert row["basis"] == "rate of sales"
    assert row["components"] == "flap actuator"
    assert row["order_quantity"] == row["reorder_point"] > 0


def test_as_of_an_earlier_day_only_earlier_sales_count_and_before_the_first_it_is_refused(tmp_path, capsys):
    data = analysed(tmp_path, sales=INVOICES)
    assert main(["analyse", "--as-of", "2024-06-30", "--data", str(data)]) == 0
    assert of_part(data, "SL-7102")["sales"] == 2
    assert table(data, "reorder")["part_no"].to_list() == ["SL-1102", "SL-7102"]
    assert main(["analyse", "--as-of", "2000-01-01", "--data", str(data)]) == 1
    assert "no record is dated up to 2000-01-01" in capsys.readouterr().err


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("which", ["alone", "named"])
def test_every_page_opens_and_says_what_it_needs(page, which, request, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(request.getfixturevalue(which)))
    test = opened(page)
    assert not test.exception
    assert "Snapshot 202" in said(test)


def test_the_shelf_says_what_the_rate_rests_on(alone, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(alone))
    text = said(opened("shelf", part="SL-7102"))
    assert "six parts sold or asked for" in text
    assert "0.17 a month" in text


def test_a_named_car_makes_the_part_one_that_was_replaced_for_a_reason_nobody_recorded(named):
    lines = table(named, "record").sort("closed_on")
    assert lines["vehicle_id"].to_list() == [*["blue coupe"] * 4, "grey saloon"]
    assert set(lines["action"]) == {"replaced"}
    assert set(lines["reason"]) == {"not recorded"}
    assert set(lines["inferred"]) == {"action;component;reason"}
    assert lines["closed_on"][0] == date(2022, 2, 1)
    assert lines["record_id"][0] == "sale 2022-02-01, blue coupe"
    assert lines["component"].to_list()[:2] == ["flap actuator", "coolant hose"]


def test_a_named_sale_ends_one_unit_and_begins_another(named):
    spells = table(named, "spell").filter(
        (pl.col("vehicle_id") == "blue coupe") & (pl.col("component") == "flap actuator") & (pl.col("scale") == "age")
    )
    # the first visit joins the car; the unit sold on it failed two years later, and its successor is watched on
    assert spells.sort("unit_no").select("entry", "exit", "event", "cause").rows() == [
        (0, (date(2024, 3, 1) - date(2022, 2, 1)).days, 1, "failure"),
        (0, (date(2024, 9, 1) - date(2024, 3, 1)).days, 0, "window end"),
    ]


def test_a_sale_counts_once_as_a_repair_or_over_the_counter(named):
    row = of_part(named, "SL-7102")
    assert row["repairs"] == 2
    assert row["sales"] == 3  # two without a car, and one that was asked for and lost


def test_a_car_that_is_not_declared_waits_in_quarantine(named, capsys):
    capsys.readouterr()
    assert main(["quarantine", "--data", str(named)]) == 0
    assert "nobody is no known car" in capsys.readouterr().out


def test_it_is_told_what_the_sales_were_read_as(named):
    told = table(named, "data_quality").filter(pl.col("kind") == "part sold for a named car, read as a repair")
    assert told["count"].to_list() == [5]


def test_beside_job_records_a_sale_stays_a_sale(tmp_path):
    jobs = "record_id,vehicle_id,closed_on,component,part_no\n1,blue coupe,2021-05-01,flap actuator,SL-7102\n"
    data = analysed(tmp_path, vehicles=CARS, parts=PARTS, sales=NAMED, repairs=jobs)
    assert table(data, "record")["record_id"].to_list() == ["1"]
    assert of_part(data, "SL-7102")["sales"] == 4  # of three years: one for a named car, two for none, one lost
