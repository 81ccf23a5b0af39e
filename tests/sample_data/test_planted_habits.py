"""The planted habits of the shop and its customers: waves, silence, small cells, what is not written down."""

from collections import Counter
from datetime import date, timedelta

import polars as pl
import pytest

from sample_data.small_cells import LEAST_CARS
from tests.sample_data.feed import jobs, table, truth
from tests.sample_data.test_planted import FAILED, faults


@pytest.fixture(scope="module")
def lines(demo_feed):
    return jobs(demo_feed)


@pytest.fixture(scope="module")
def planted(demo_feed):
    return truth(demo_feed).planted


def share(part, whole):
    return part.height / whole.height


def test_truth_6_the_accumulators_were_renewed_in_one_wave_six_to_eight_years_before_the_end(lines, planted):
    renewed = lines.filter(pl.col("component") == "gas accumulator", pl.col("reason") == "planned")
    renewed = renewed.filter(pl.col("action") == "replaced")
    per_year = Counter(day.year for day in renewed["day"])
    assert per_year[2019] + per_year[2020] > 0.85 * renewed.height
    assert renewed.filter(pl.col("day").is_between(date(2018, 11, 20), date(2020, 12, 1))).height > 200
    assert planted["wave"]["of_the_wave_at_end"] > 60


def test_truth_6_the_seal_is_nearly_gone_and_comes_in_batches_of_sixty(demo_feed, planted):
    buy = planted["last-time buy"]
    parts = table(demo_feed, "parts").filter(pl.col("part_no") == buy["part_no"])
    assert set(parts["minimum_order"]) == {"60"} == {str(buy["batch"])}
    stock = table(demo_feed, "stock").filter(pl.col("part_no") == buy["part_no"], pl.col("counted_on") > "2026")
    assert stock["on_hand"].cast(pl.Int64).sum() < 10


def test_truth_7_a_quarter_of_the_places_is_blank(lines, planted):
    told = lines.filter(pl.col("symptom").is_not_null(), pl.col("reason") != "accident")
    blank = told.filter(pl.col("location").is_null())
    assert share(blank, told) == pytest.approx(0.25, abs=0.02)
    assert planted["blank locations"]["share"] == pytest.approx(0.25, abs=0.001)


def test_truth_8_no_trigger_unit_and_exactly_one_coil_fails(lines, planted):
    assert faults(lines, "trigger unit").height == 0
    coil = lines.filter(pl.col("component") == "ignition coil", pl.col("reason") == "failure")
    assert coil["vehicle_id"].to_list() == [planted["nothing to see"]["coil_vehicle"]]
    assert coil["day"].to_list() == [date.fromisoformat(planted["nothing to see"]["coil_day"])]
    unsure = faults(lines, "ignition coil").filter(pl.col("record_id") != coil["record_id"][0])
    assert unsure.filter(pl.col("reason") == "found at inspection").height == 0


def test_truth_8_trigger_units_are_a_matter_of_s3_alone(demo_feed, lines):
    rows = table(demo_feed, "components").filter(pl.col("component") == "trigger unit")
    assert rows["series"].to_list() == ["S3"]
    assert set(lines.filter(pl.col("component") == "trigger unit")["series"]) <= {"S3"}


def test_truth_9_seven_early_cars_make_a_cell_of_their_own(demo_feed, planted):
    cell = planted["privacy"]["small_cell"]
    cars = table(demo_feed, "vehicles").filter(pl.col("series") == "S1", pl.col("serial") <= cell["serial_to"])
    assert sorted(cars["vehicle_id"]) == sorted(cell["vehicles"])
    assert cars.height == 7


def test_truth_9_one_owner_of_four_cars_is_behind_two_in_five_orders_of_a_cell(lines, planted):
    cell = planted["privacy"]["dominant_owner"]
    told = faults(lines, cell["component"]).filter(pl.col("series") == cell["series"])
    orders = told.select("record_id", "vehicle_id", "owner_key").unique()
    theirs = orders.filter(pl.col("owner_key") == cell["owner_key"])
    assert theirs["vehicle_id"].n_unique() == cell["owner_cars"] == 4
    assert orders["vehicle_id"].n_unique() >= LEAST_CARS
    assert share(theirs, orders) == pytest.approx(0.40, abs=0.05)


def test_truth_10_a_fifth_of_the_joiners_bring_a_fault(demo_feed, lines, planted):
    joiners = {car.vehicle_id: car.joined for car in truth(demo_feed).cars if not car.from_start}
    brought = planted["brought faults"]
    assert brought["out_of"] == len(joiners)
    assert brought["share"] == pytest.approx(0.20, abs=0.01)
    for vehicle in brought["vehicles"]:
        first = lines.filter(pl.col("vehicle_id") == vehicle)["day"].min()
        soon = lines.filter(pl.col("vehicle_id") == vehicle, FAILED, pl.col("day") <= first + timedelta(60))
        assert soon.height > 0, vehicle
        assert first.isoformat() == joiners[vehicle]


def test_truth_11_job_numbers_start_again_each_january(lines):
    numbered = lines.filter(pl.col("record_id").str.contains("-"), pl.col("opened_on") <= pl.col("closed_on"))
    assert (numbered["record_id"].str.slice(0, 4) == numbered["opened_on"].dt.to_string("%Y")).all()
    by_year = numbered.group_by(pl.col("record_id").str.slice(0, 4).alias("year")).agg(
        least=pl.col("record_id").str.slice(5).cast(pl.Int64).min(), opened=pl.col("opened_on").min()
    )
    full = by_year.filter(pl.col("year") > "2012")
    assert full.height == 14
    assert full["least"].max() <= 3
    assert full["opened"].dt.month().max() == 1


def test_truth_13_a_quarter_of_the_lines_of_a_five_position_component_names_none(demo_feed, lines, planted):
    component = planted["blank positions"]["component"]
    assert table(demo_feed, "components").filter(pl.col("component") == component).height == 5
    flaps = lines.filter(pl.col("component") == component)
    assert share(flaps.filter(pl.col("position").is_null()), flaps) == pytest.approx(0.25, abs=0.01)


def test_truth_14_a_tenth_of_the_lines_gives_no_reason(demo_feed):
    every = table(demo_feed, "repairs")
    silent = every.filter(pl.col("reason").is_null() | (pl.col("reason") == "not recorded"))
    assert share(silent, every) == pytest.approx(0.10, abs=0.001)
    assert 0.3 < share(silent.filter(pl.col("reason").is_null()), silent) < 0.7


def test_truth_14_no_good_check_without_a_reason_stands_on_an_order_without_a_plan(lines):
    planned = set(lines.filter(pl.col("reason") == "planned")["record_id"])
    unsure = lines.filter(pl.col("action") == "inspected", pl.col("finding").is_null() | (pl.col("finding") == "good"))
    unsure = unsure.filter(pl.col("reason").is_null() | (pl.col("reason") == "not recorded"))
    assert unsure.height > 100
    assert set(unsure["record_id"]) <= planned


def test_truth_15_seven_in_ten_carburettor_repairs_get_a_check_over_after_two_weeks(lines, planted):
    carb = lines.filter(pl.col("component") == planted["check-overs"]["component"])
    checks = carb.filter(pl.col("reason") == "no fault found", pl.col("finding") == "good")
    repairs = (
        carb.filter(FAILED, pl.col("action") != "inspected").select("record_id", "vehicle_id", "closed_on").unique()
    )
    gaps = []
    for row in checks.iter_rows(named=True):
        before = repairs.filter(pl.col("vehicle_id") == row["vehicle_id"], pl.col("closed_on") < row["closed_on"])
        gaps.append((row["day"] - before["closed_on"].max()).days if before.height else None)
    near = [gap for gap in gaps if gap is not None and gap <= 18]
    assert len(near) > 0.85 * checks.height
    assert checks.height / repairs.height == pytest.approx(0.7, abs=0.06)
    assert planted["check-overs"]["share"] == pytest.approx(0.7, abs=0.02)


def test_notes_hold_a_word_that_no_result_may_show(demo_feed, planted):
    notes = table(demo_feed, "repairs")["note"].drop_nulls()
    assert notes.str.contains(planted["notes"]["mark"]).sum() > 20
    for column in ("symptom", "finding", "cause", "location", "component"):
        assert not table(demo_feed, "repairs")[column].str.contains(planted["notes"]["mark"]).any()


def test_what_a_reader_must_fill_in_is_as_often_empty_as_told(demo_feed):
    told = truth(demo_feed).inferred
    lines = table(demo_feed, "repairs")
    without = lines.filter(pl.col("component").is_null(), pl.col("part_no").is_not_null())
    assert without.height == told["component from part_no"]
    unsaid = lines.filter(pl.col("action").is_null(), pl.col("part_no").is_not_null())
    assert unsaid.height == told["action from part_no"]
    credited = lines.filter(pl.col("quantity").cast(pl.Float64, strict=False) < 0)
    assert credited.height == told["credits"]
