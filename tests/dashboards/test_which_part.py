"""Which part for this car: by the car, its serial or its build date; what cannot be told, and the look-alike."""

from datetime import date

import polars as pl
import pytest

from dashboards.answers import which_part
from tests.dashboards import snapshots
from tests.dashboards.snapshot_rows import Fleet, frame, write
from tests.dashboards.visits import opened, said

OLD = {"part_no": "B1", "live_no": "B1", "component": "suspension bush", "series": "S2", "looks_like": "B2"}
OLD |= {"serial_to": "LW2-08000", "until_to": date(1978, 3, 1), "after_to": date(1978, 6, 1)}
NEW = {"part_no": "B2", "live_no": "B2", "component": "suspension bush", "series": "S2", "serial_from": "LW2-08001"}
NEW |= {"before_from": date(1978, 3, 1), "since_from": date(1978, 6, 1)}
HOSE = {"part_no": "H1", "live_no": "H2", "component": "coolant hose", "position": "top", "series": "S1"}
FITS = [OLD, NEW, HOSE, {**HOSE, "part_no": "H2"}, {**HOSE, "part_no": "C1", "live_no": "C1", "series": None}]


def fits():
    return frame("part_fit", FITS)


def parts(shown):
    return dict(shown.select("part", "fits").iter_rows())


@pytest.mark.parametrize(
    ("serial", "answer"),
    [
        ("LW2-07999", {"B1": "yes", "C1": "yes"}),
        ("LW2-08000", {"B1": "yes", "C1": "yes"}),
        ("LW2-8001", {"B2": "yes", "C1": "yes"}),
        ("prototype", {"B1": "cannot be told", "B2": "cannot be told", "C1": "yes"}),
    ],
)
def test_a_serial_says_which_of_two_look_alikes(serial, answer):
    assert parts(which_part.described(fits(), "S2", serial=serial)) == answer


@pytest.mark.parametrize(
    ("built", "answer"),
    [
        (date(1977, 1, 1), {"B1": "yes"}),
        (date(1978, 3, 1), {"B1": "yes"}),
        (date(1978, 4, 15), {"B1": "cannot be told", "B2": "cannot be told"}),
        (date(1978, 6, 1), {"B2": "yes"}),
    ],
)
def test_a_build_date_says_it_too_except_between_the_last_and_the_first_known_car(built, answer):
    assert parts(which_part.described(fits(), "S2", built=built)) == answer | {"C1": "yes"}


def test_without_a_series_a_serial_tells_it_where_the_ranges_of_one_series_alone_begin_so():
    assert parts(which_part.described(fits(), which_part.ALL_SERIES, serial="LW2-07000")) == {"B1": "yes", "C1": "yes"}
    both = pl.concat([fits(), frame("part_fit", [{**NEW, "part_no": "B3", "live_no": "B3", "series": "S3"}])])
    unsure = which_part.described(both, which_part.ALL_SERIES, serial="LW2-09000")
    bushes = unsure.filter(pl.col("component") == "suspension bush")
    assert parts(bushes) == {"B2": "cannot be told", "B3": "cannot be told"}


def test_without_a_series_nothing_of_one_series_is_said_to_fit():
    shown = which_part.described(fits(), which_part.ALL_SERIES, built=date(1977, 1, 1))
    assert parts(shown) == {"B1": "cannot be told", "H1": "cannot be told", "H2": "cannot be told", "C1": "yes"}


def test_the_look_alike_is_warned_of_in_both_directions_and_not_where_it_fits_too():
    for serial, part, other in (("LW2-07999", "B1", "B2"), ("LW2-8001", "B2", "B1")):
        shown = which_part.described(fits(), "S2", serial=serial).filter(pl.col("part") == part)
        assert shown["looks alike, does not fit"].to_list() == [other]
        told = which_part.sentence(shown, "suspension bush")
        assert told == f"Suspension bush: {part}. {other} looks alike and does not fit."
    unsure = which_part.described(fits(), "S2", serial="prototype").filter(pl.col("part") != "C1")
    assert unsure["looks alike, does not fit"].null_count() == 2
    assert which_part.sentence(unsure, "suspension bush").startswith("It cannot be told which suspension bush fits")
    assert unsure["why"][0].endswith("whether B1 fits, which takes its serial: it fits S2 to LW2-08000.")


def test_a_superseded_number_says_what_to_order():
    shown = which_part.described(fits(), "S1", serial="LW1-1").filter(pl.col("part") == "H1")
    assert shown["order as"].to_list() == ["H2"]
    assert which_part.sentence(shown, "coolant hose") == "Coolant hose: H2."
    assert shown["why"][0] == "H1 fits, by its series; order H2, which supersedes it and fits as well."


def test_a_number_whose_successor_is_not_said_to_fit_is_itself_the_answer():
    shown = which_part.described(fits().filter(pl.col("part_no") == "H1"), "S1", serial="LW1-1")
    assert shown["order as"].to_list() == [None]
    assert which_part.sentence(shown, "coolant hose") == "Coolant hose: H1."
    assert shown["why"][0].endswith("H2 supersedes it, but the parts list does not say that it fits this car.")


def test_a_number_for_every_place_fits_each_place_and_is_warned_of_at_none():
    everywhere = {**HOSE, "part_no": "H2", "position": None}
    shown = which_part.described(frame("part_fit", [{**HOSE, "looks_like": "H2"}, everywhere]), "S1", serial="LW1-1")
    top = shown.filter(pl.col("position") == "top").row(0, named=True)
    assert (top["order as"], top["looks alike, does not fit"]) == ("H2", None)


def test_all_kinds_are_counted_and_nothing_is_said_as_nothing():
    unsure = which_part.described(fits(), "S2", serial="prototype")
    told = which_part.sentence(unsure, which_part.EVERY)
    assert told == "One number fits this car. Of two more it cannot be told."
    nothing = which_part.described(fits().head(0), "S2", serial="x1")
    assert which_part.sentence(nothing, which_part.EVERY).startswith("The parts")


@pytest.fixture
def page(tmp_path, monkeypatch):
    fleet = Fleet()
    snapshots._stock(fleet)
    fleet.car("car-1", "S2")
    told = {"fits": "yes", "told_by": "serial", "says": "B1 fits, by its serial; B2 looks the same and does not fit."}
    of_car = {
        "vehicle_id": "car-1",
        "component": "suspension bush",
        "position": "all",
        "part_no": "B1",
        "live_no": "B1",
    }
    fleet.rows["part_fit"] = FITS
    fleet.rows["part_for_car"] = [{**of_car, **told, "looks_like": "B2"}]
    wrong = {"record": "R1/1", "vehicle_id": "car-1", "closed_on": date(2025, 1, 2), "component": "suspension bush"}
    wrong |= {"part_no": "B2", "told_by": "serial", "fits_range": "S2", "says": "B2 fits S2 from LW2-08001."}
    fleet.rows["part_misfit"] = [wrong]
    fleet.rows["catalogue_finding"] = [{"kind": "gap", "part_no": "B1", "says": "No bush from 1 to 2."}]
    monkeypatch.setenv("WEARLEDGER_DATA", str(write(tmp_path, fleet.rows, "2026-11-24-fits0001")))
    return opened("shelf", kind="suspension bush")


def test_the_page_answers_for_a_car_and_lists_what_contradicts(page):
    assert not page.exception
    text = said(page)
    assert "Suspension bush: B1. B2 looks alike and does not fit." in text
    assert "One record shows a part on a car that it does not fit" in text
    assert "One finding about the parts list itself" in text
    assert page.warning  # springs and suspension


def test_the_page_answers_for_a_serial_that_is_typed(page):
    page.segmented_control(key="ask-by").set_value("serial").run()
    assert "nothing that is typed here is kept" in said(page)
    page.text_input(key="for-serial").input("LW2-9000").run()
    page.selectbox(key="for-series").select("S2").run()
    assert not page.exception
    assert "Suspension bush: B2. B1 looks alike and does not fit." in said(page)


@pytest.mark.usefixtures("page")
def test_the_page_of_one_car_says_which_part_fits_it_and_leads_on():
    test = opened("one-car", car="car-1")
    assert not test.exception
    assert "One number fits this car." in said(test)
    shown = next(each.value for each in test.dataframe if "looks alike, does not fit" in each.value.columns)
    assert shown["looks alike, does not fit"].to_list() == ["B2"]


def test_without_a_parts_list_nothing_is_asked(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    assert "Which part for this car?" not in said(opened("shelf"))
