"""Rules of record 3 to 6, as far as they concern loading."""

from datetime import date

import pytest

from analytics.ledger import default_as_of, open_ledger, quarantine_rows, set_aside_rows, withdraw
from analytics.parameters import Parameters
from analytics.pipeline import analyse
from analytics.spells.history import build_history
from tests.ledger.feeds import LOADED_ON, ask, job, put, tell

MOVED = Parameters().renumber_days


def waiting(data):
    return tell(data, quarantine_rows).select("table", "row_no", "column", "value").rows()


@pytest.mark.parametrize(
    ("table", "row"),
    [
        ("repairs", job(vehicle_id="B")),
        ("readings", {"vehicle_id": "B", "read_on": "2020-01-01", "odometer": "5"}),
        ("fitted", {"vehicle_id": "B", "component": "hose", "fitted_from": "2020-01-01"}),
        ("sales", {"part_no": "P", "sold_on": "2020-01-01", "quantity": "1", "vehicle_id": "B"}),
    ],
)
def test_rule_03_a_row_of_an_unknown_car_goes_to_quarantine(tmp_path, table, row):
    report = put(tmp_path, **{table: [row]})
    assert waiting(tmp_path) == [(table, 1, "vehicle_id", "B")]
    assert ask(tmp_path, f"select count(*) from {table}") == [(0,)]
    assert "add it to vehicles" in report.quarantined["says"][0]


def test_rule_03_a_sale_without_a_car_is_taken(tmp_path):
    put(tmp_path, sales=[{"part_no": "P", "sold_on": "2020-01-01", "quantity": "1"}])
    assert ask(tmp_path, "select vehicle_id from sales") == [(None,)]


def test_rule_03_a_car_may_come_with_the_same_feed_or_an_earlier_one(tmp_path):
    put(tmp_path, vehicles=[{"vehicle_id": "B", "series": "first"}], repairs=[job(vehicle_id="B")])
    put(tmp_path, repairs=[job("18", vehicle_id="B")])
    assert waiting(tmp_path) == []


def test_rule_03_a_quarantined_line_with_readable_car_and_day_was_seen(tmp_path):
    put(
        tmp_path,
        source="shop",
        repairs=[
            job("1", action="polished up", reason="planned"),
            job("2", vehicle_id="B"),
            job("3", opened_on=None, closed_on="2027-01-01"),
            job("4", vehicle_id=None),
            job("5"),
        ],
    )
    day = date(2020, 3, 1)
    assert ask(tmp_path, "select line_id, vehicle_id, day, planned from seen order by line_id") == [
        ("shop:1/1", "A", day, True),
        ("shop:2/1", "B", day, False),
    ]
    assert len(waiting(tmp_path)) == 4


def test_rule_03_a_bad_value_is_set_aside_and_the_line_stays(tmp_path):
    report = put(tmp_path, repairs=[job(odometer="12x")])
    assert ask(tmp_path, "select odometer from repairs") == [(None,)]
    assert report.set_aside.select("table", "column", "value").rows() == [("repairs", "odometer", "12x")]
    assert report.count("set_aside") == 1
    assert tell(tmp_path, set_aside_rows)["value"].to_list() == ["12x"]
    put(tmp_path, repairs=[job(odometer="12")])
    assert tell(tmp_path, set_aside_rows).is_empty()


def test_rule_04_the_newest_revision_counts_and_the_old_one_stays(tmp_path):
    put(tmp_path, repairs=[job(cost="10")])
    report = put(tmp_path, repairs=[job(cost="12")])
    assert (report.count("revised"), report.count("accepted")) == (1, 0)
    assert ask(tmp_path, "select cost from repairs") == [(12.0,)]
    assert ask(tmp_path, "select revision, cost, load_id from repairs_revision order by revision") == [
        (1, 10.0, 1),
        (2, 12.0, 2),
    ]


def test_rule_04_records_of_two_sources_may_have_one_number(tmp_path):
    put(tmp_path, source="shop", repairs=[job(cost="10")])
    put(tmp_path, source="branch", repairs=[job(cost="12")])
    assert ask(tmp_path, "select source, line_id, cost from repairs order by source") == [
        ("branch", "branch:17/1", 12.0),
        ("shop", "shop:17/1", 10.0),
    ]


def test_rule_04_a_complete_feed_lists_what_is_gone_and_withdraws_nothing(tmp_path):
    put(tmp_path, source="shop", repairs=[job("1"), job("2"), job("3")])
    put(tmp_path, source="branch", repairs=[job("4")])
    partial = put(tmp_path, source="shop", repairs=[job("1", cost="1")])
    assert partial.missing.is_empty()
    complete = put(tmp_path, source="shop", repairs=[job("1"), job("2", action="polished up")], complete=True)
    assert complete.missing["record_id"].to_list() == ["3"]
    assert any("3/1" in line and "withdraw" in line for line in complete.warnings())
    assert ask(tmp_path, "select count(*) from repairs") == [(4,)]


def test_rule_05_a_revision_for_another_car_is_another_job(tmp_path):
    put(tmp_path, vehicles=[{"vehicle_id": name, "series": "first"} for name in "AB"], repairs=[job(finding="torn")])
    report = put(tmp_path, repairs=[job(vehicle_id="B", finding="leaks")])
    assert waiting(tmp_path) == [("repairs", 1, "record_id", "17")]
    assert ask(tmp_path, "select vehicle_id from repairs") == [("A",)]
    says = report.quarantined["says"][0]
    assert "finding:torn" in says
    assert "finding:leaks" in says
    assert "record_id = year + number" in says
    assert "undo load 1" in says


@pytest.mark.parametrize(("closed_on", "taken"), [("2020-05-03", 1), ("2020-05-04", 0), ("2020-01-03", 0)])
def test_rule_05_a_revision_that_moves_closed_on_too_far_is_another_job(tmp_path, closed_on, taken):
    assert abs((date(2020, 5, 3) - date(2020, 3, 4)).days) == MOVED
    put(tmp_path, repairs=[job()])
    report = put(tmp_path, repairs=[job(opened_on=None, closed_on=closed_on)])
    assert report.count("revised") == taken
    assert report.count("quarantined") == 1 - taken


def test_rule_05_holds_within_one_feed(tmp_path):
    report = put(tmp_path, repairs=[job(), job(opened_on=None, closed_on="2021-03-04")])
    assert report.count("accepted") == 2
    assert "record_id = year + number" in report.quarantined["says"][0]
    assert report.quarantined["row_no"].to_list() == [2]


def test_rule_06_the_default_day_is_the_latest_in_the_ledger(tmp_path):
    put(tmp_path, vehicles=[{"vehicle_id": "A", "series": "first", "left_on": "2026-01-01"}])
    assert tell(tmp_path, default_as_of) is None
    put(tmp_path, repairs=[job()])
    assert tell(tmp_path, default_as_of) == date(2020, 3, 4)
    put(tmp_path, readings=[{"vehicle_id": "A", "read_on": "2021-01-02", "odometer": "5"}])
    assert tell(tmp_path, default_as_of) == date(2021, 1, 2)
    put(tmp_path, stock=[{"part_no": "P", "counted_on": "2022-02-03", "on_hand": "1"}])
    assert tell(tmp_path, default_as_of) == date(2022, 2, 3)


def test_rule_06_a_day_after_the_loading_is_never_the_default(tmp_path):
    late = "2026-12-01"
    put(
        tmp_path,
        repairs=[job(), job("18", opened_on=None, closed_on=late)],
        readings=[{"vehicle_id": "A", "read_on": late, "odometer": "5"}],
        stock=[{"part_no": "P", "counted_on": late, "on_hand": "1"}],
    )
    assert tell(tmp_path, default_as_of) == date(2020, 3, 4)


def test_no_two_lines_have_one_name_whatever_their_numbers_and_sources_hold(tmp_path):
    put(tmp_path, repairs=[job("x:1001"), job("1001"), job("1001/1"), job(":1001")])
    put(tmp_path, source="x", repairs=[job("1001"), job("1001/1"), job(":1001")])
    named = [name for (name,) in ask(tmp_path, "select line_id from repairs order by line_id")]
    assert named == [
        "1001/1", "1001/1/1", "::1001/1", ":x:1001/1", "x:1001/1", "x:1001/1/1", "x::1001/1",
    ]  # fmt: skip
    analyse(tmp_path)


def test_orders_whose_numbers_and_cars_run_together_stay_two_orders(tmp_path):
    cars = [{"vehicle_id": name, "series": "first"} for name in ("B", "A | B")]
    jobs = [job("7 | A", vehicle_id="B"), job("7", vehicle_id="A | B")]
    put(tmp_path, vehicles=cars, repairs=jobs)
    with open_ledger(tmp_path, write=False) as connection:
        build_history(connection, LOADED_ON, Parameters())
        assert connection.sql("select count(distinct order_id) from order_line").fetchall() == [(2,)]


def test_a_number_with_a_colon_is_withdrawn_by_the_name_it_is_shown_under(tmp_path):
    put(tmp_path, repairs=[job("x:1001")])
    put(tmp_path, source="x", repairs=[job("1001")])
    assert withdraw(tmp_path, ":x:1001", reason="never done") == 1
    assert ask(tmp_path, "select line_id from repairs") == [("x:1001/1",)]
