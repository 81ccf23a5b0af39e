"""The same thing is told with the same figure wherever it stands on a page."""

import re

from tests.dashboards.visits import opened, said


def test_car_years_of_a_shelf_are_those_of_the_front_page(demo_dir, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(demo_dir))
    (told,) = {*re.findall(r"(\S+) car-years", said(opened("shelf")))}
    assert told in re.findall(r"(\S+) car-years", said(opened("in-short")))


def test_car_years_of_a_slot_are_those_of_its_table(demo_dir, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(demo_dir))
    test = opened("where")
    (told,) = re.findall(r"(\S+) car-years", said(test))
    (slots,) = (table.value for table in test.dataframe if "car-years" in table.value)
    assert float(told) in slots["car-years"].tolist()
