"""The same thing is told with the same figure wherever it stands on a page."""

import re

from tests.dashboards.visits import opened, said


def test_car_years_of_a_shelf_are_those_of_its_reason(demo_dir, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(demo_dir))
    told = re.findall(r"(\S+) car-years", said(opened("shelf")))
    assert len(told) > 1
    assert len(set(told)) == 1


def test_car_years_of_a_slot_are_those_of_its_table(demo_dir, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(demo_dir))
    test = opened("where")
    (told,) = re.findall(r"(\S+) car-years", said(test))
    assert float(told) in test.dataframe[-1].value["car-years"].tolist()
