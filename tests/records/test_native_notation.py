"""Native headings over dates and numbers written as in continental Europe: nothing is guessed, a mapping says it."""

from datetime import date

import pytest

from analytics.errors import FeedError
from analytics.records import dry_run, judge, map_feed, parse_mapping
from analytics.records.mapping_file import parse_mapping_text
from tests.records.feeds import LOADED_ON, feed, set_aside

VEHICLES = "vehicle_id;series;built_on\ncar1;S1;01.03.1962\ncar2;S1;17.11.1964\n"
REPAIRS = (
    "record_id;vehicle_id;closed_on;odometer;labour_minutes;cost;part_no;quantity\n"
    "J1;car1;23.04.2019;61.240;90;1.234,50;P1;1\n"
    "J2;car2;05.06.2021;113.345;1.200;34,50;P1;2,5\n"
)


def judged(found, name):
    return judge(name, found.tables[name], loaded_on=LOADED_ON, settings=found.settings)


def repairs(folder, lines, settings=""):
    feed(folder, repairs=f"record_id,vehicle_id,closed_on,odometer,cost,quantity,measured\n{lines}")
    return judged(map_feed(folder, parse_mapping_text(settings, "m") if settings else None), "repairs")


def asides(found):
    return found.set_aside.select("column", "value").rows()


@pytest.mark.parametrize("written", ["61.240", "1.000", "1.234.567", "999.999"])
def test_an_odometer_with_three_digits_behind_a_point_is_set_aside(tmp_path, written):
    found = repairs(tmp_path, f"J1,a,2020-01-01,{written},,,\n")
    (says,) = found.set_aside["says"].to_list()
    assert found.accepted["odometer"].to_list() == [None]
    assert f"(may be {written.replace('.', '')}" in says
    assert says.endswith("is not certain: state decimal and thousands in a mapping, or write the number without marks")


def test_both_readings_of_the_number_are_named(tmp_path):
    found = repairs(tmp_path, "J1,a,2020-01-01,61.240,1.000,,\n")
    assert asides(found) == [("odometer", "61.240 (may be 61240 or 61.24)"), ("cost", "1.000 (may be 1000 or 1)")]


def test_a_required_odometer_of_two_readings_costs_the_row(tmp_path):
    found = map_feed(feed(tmp_path, readings="vehicle_id,read_on,odometer\na,2020-01-01,61.240\n"))
    assert judged(found, "readings").quarantined["column"].to_list() == ["odometer"]


@pytest.mark.parametrize("written", ["1.234,50", "34,50", "1,234", "1'234.50", "61 240"])
def test_a_number_with_other_marks_is_set_aside_with_what_to_state(written):
    assert set_aside("repairs", cost=written)[2].endswith("; state decimal and thousands in the mapping")
    assert "state decimal" not in set_aside("repairs", cost="12x")[2]


@pytest.mark.parametrize(
    ("written", "read"),
    [("61240", 61240), ("61240.5", 61240.5), ("61.2", 61.2), ("0.125", 0.125), ("1234.125", 1234.125)],
)
def test_other_numbers_are_read_as_before(tmp_path, written, read):
    found = repairs(tmp_path, f"J1,a,2020-01-01,{written},,,\n")
    assert (found.accepted["odometer"].to_list(), asides(found)) == ([read], [])


def test_a_sure_decimal_in_the_same_column_tells_what_a_point_means_except_for_odometers(tmp_path):
    found = repairs(tmp_path, "J1,a,2020-01-01,61.240,1.250,1.250,2.125\nJ2,a,2020-01-02,70.5,3.5,2,0.5\n")
    assert [column for column, _ in asides(found)] == ["odometer", "quantity"]
    assert found.accepted.select("cost", "measured").rows()[0] == (1.25, 2.125)


@pytest.mark.parametrize(
    ("marks", "read"),
    [
        ('decimal = "."', (61.24, 1.25)),
        ('decimal = ","\nthousands = "."', (61240, 1250)),
        ('decimal = "."\nthousands = ","', (61.24, 1.25)),
    ],
)
def test_settings_say_how_a_native_feed_writes_numbers(tmp_path, marks, read):
    found = repairs(tmp_path, "J1,a,2020-01-01,61.240,1.250,,\n", f"[settings]\n{marks}\n")
    assert found.accepted.select("odometer", "cost").rows() == [read]
    assert asides(found) == []


def test_a_date_order_alone_leaves_the_numbers_uncertain(tmp_path):
    found = repairs(tmp_path, "J1,a,02.01.2020,61.240,,,\n", '[settings]\ndate_order = "dmy"\n')
    assert found.accepted["closed_on"].to_list() == [date(2020, 1, 2)]
    assert [column for column, _ in asides(found)] == ["odometer"]


def test_settings_hold_for_every_block_that_does_not_say_otherwise(tmp_path):
    feed(tmp_path, jobs="Car,Day\na,31.12.2020\n", more="Car,Day\nb,12/31/2020\n")
    block = '[[repairs]]\nfile="{}.csv"\ncolumns={{ vehicle_id="Car", closed_on="Day" }}\n'
    text = 'source="shop"\n[settings]\ndate_order="dmy"\n' + block.format("jobs") + block.format("more")
    found = map_feed(tmp_path, parse_mapping_text(f'{text}date_order="mdy"\n', "m"))
    assert found.tables["repairs"]["closed_on"].to_list() == ["2020-12-31", "2020-12-31"]
    assert found.settings == {}


@pytest.mark.parametrize("said", ['decimal = ";"', 'thousands = "."', 'date_order = "ymd"', "two_digit_years = -1"])
def test_marks_and_orders_nobody_knows_are_refused_in_settings_too(said):
    with pytest.raises(FeedError):
        parse_mapping_text(f"[settings]\n{said}\n", "m")


def test_a_dry_run_writes_the_mapping_that_makes_a_german_feed_load(tmp_path):
    folder = tmp_path / "export"
    folder.mkdir()
    feed(folder, vehicles=VEHICLES, repairs=REPAIRS)
    before = map_feed(folder)
    assert judged(before, "repairs").accepted.is_empty()
    told = dry_run(folder, None, loaded_on=LOADED_ON)
    target = tmp_path / "export.mapping.toml"
    assert any(line.startswith(f"written to {target}") and f"--mapping {target}" in line for line in told)
    assert told.index("Read with this mapping:") > told.index("[settings]")
    found = map_feed(folder, parse_mapping(target))
    assert found.source == ""
    read = judged(found, "repairs")
    assert (read.quarantined.height, read.set_aside.height) == (0, 0)
    assert read.accepted.select("closed_on", "odometer", "labour_minutes", "cost", "quantity").rows() == [
        (date(2019, 4, 23), 61240.0, 90.0, 1234.5, 1.0),
        (date(2021, 6, 5), 113345.0, 1200.0, 34.5, 2.5),
    ]
    cars = judged(found, "vehicles")
    assert (cars.quarantined.height, cars.set_aside.height) == (0, 0)
    assert cars.accepted["built_on"].to_list() == [date(1962, 3, 1), date(1964, 11, 17)]


def test_odometers_alone_are_proposed_with_a_word_to_check(tmp_path):
    told = dry_run(
        feed(tmp_path, readings="vehicle_id,read_on,odometer\na,2020-01-01,61.240\n"), None, loaded_on=LOADED_ON
    )
    assert 'decimal = ","  # guess: CHECK: every point stands before three digits' in told
    assert "1 more row(s) and value(s) can be read with this mapping:" in told


def test_a_feed_written_as_it_should_be_gets_no_proposal(tmp_path):
    text = "record_id,vehicle_id,closed_on,odometer,measured\nJ1,a,2020-01-02,61240,25.013\nJ2,a,soon,12x,2.5\n"
    told = "\n".join(dry_run(feed(tmp_path, repairs=text), None, loaded_on=LOADED_ON))
    assert "mapping:" not in told
    assert not tmp_path.with_name(f"{tmp_path.stem}.mapping.toml").exists()
