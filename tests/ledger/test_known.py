"""What the ledger tells while a feed is read: cars built long before, and words that are part numbers."""

from datetime import date

import pytest

from analytics.ledger import known_before, load
from analytics.records import map_feed, parse_mapping
from tests.ledger.feeds import LOADED_ON, ask
from tests.records.feeds import feed, mapping

DMY = '[settings]\ndate_order = "dmy"\n'
HIDDEN = DMY + 'vehicle_id = "keyed hash"\n'
JOB = "record_id,vehicle_id,closed_on\n1,car1,03.05.24\n2,car2,03.05.24\n"


def put(folder, data, text, **files):
    folder.mkdir(exist_ok=True)
    for old in folder.glob("*.csv"):
        old.unlink()
    stated = parse_mapping(mapping(folder, text))
    (folder / "mapping.toml").unlink()
    return load(data, map_feed(feed(folder, **files), stated, known_before(data)), loaded_on=LOADED_ON)


@pytest.mark.parametrize("text", [DMY, HIDDEN])
def test_the_building_of_a_car_loaded_before_settles_a_two_digit_year(tmp_path, text):
    data = tmp_path / "data"
    put(tmp_path / "feed", data, text, vehicles="vehicle_id,series,built_on\ncar1,S,1962\ncar2,S,\n")
    report = put(tmp_path / "feed", data, text, repairs=JOB)
    assert (report.count("accepted"), report.count("quarantined")) == (1, 1)
    assert ask(data, "select closed_on, inferred from repairs") == [(date(2024, 5, 3), "closed_on")]


def test_a_part_number_that_looks_like_a_telephone_number_is_none(tmp_path):
    data = tmp_path / "data"
    cars = "vehicle_id,series\ncar1,S\n"
    jobs = "record_id,vehicle_id,closed_on,part_no,note\n"
    own = jobs + "1,car1,2020-01-02,0171/1234567,fitted 0171/1234567\n2,car1,2020-01-03,,rang 0171/7654321\n"
    put(tmp_path / "feed", data, DMY, vehicles=cars, repairs=own)
    later = jobs + "3,car1,2020-01-04,,order 0171/1234567 again\n4,car1,2020-01-04,,tel 0171/1234567-8\n"
    put(tmp_path / "feed", data, DMY, repairs=later)
    assert ask(data, "select record_id, note from repairs order by all") == [
        ("1", "fitted 0171/1234567"),
        ("2", None),
        ("3", "order 0171/1234567 again"),
        ("4", None),
    ]


def test_the_catalogue_tells_part_numbers_too(tmp_path):
    parts = "part_no,component,superseded_by,looks_like\n555-123-4567,hose,0412 345 678,06 12 34 56 78;A\n"
    jobs = "record_id,vehicle_id,closed_on,note\n"
    jobs += "".join(f"{n},car1,2020-01-02,{text}\n" for n, text in enumerate(
        ("555-123-4567 split", "0412 345 678 split", "06 12 34 56 78 split", "555-123-4568 split")
    ))  # fmt: skip
    cars = "vehicle_id,series\ncar1,S\n"
    put(tmp_path / "feed", tmp_path / "data", DMY, vehicles=cars, parts=parts, repairs=jobs)
    notes = [note for (note,) in ask(tmp_path / "data", "select note from repairs order by record_id")]
    assert notes == ["555-123-4567 split", "0412 345 678 split", "06 12 34 56 78 split", None]
