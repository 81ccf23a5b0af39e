"""Every page opens on every kind of snapshot, says true sentences, and never shows a hole in the data."""

import re

import pytest
from streamlit.testing.v1 import AppTest

from dashboards import data
from dashboards.answers.short import standing
from tests.dashboards.visits import APP, PAGES, drawings, opened, said

HOLES = re.compile(r"\b(nan|NaN|None|null|inf|Infinity|Traceback)\b")


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("kind", ["rich", "thin", "buses", "sales", "nothing"])
def test_a_page_opens_without_an_error_or_a_hole(page, kind, folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders[kind]))
    test = opened(page)
    assert not test.exception
    text = said(test)
    assert not HOLES.search(text)
    assert "Snapshot 2026-11-24-" in text


def test_the_app_itself_begins_with_what_stands_out(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    test = AppTest.from_file(str(APP), default_timeout=60).run()
    assert not test.exception
    assert test.title[0].value == "What stands out, as of 24 Nov 2026"


@pytest.mark.parametrize("named", [True, False])
def test_without_a_snapshot_the_page_says_what_to_run(named, tmp_path, monkeypatch):
    if named:
        monkeypatch.setenv("WEARLEDGER_DATA", str(tmp_path))
    else:
        monkeypatch.delenv("WEARLEDGER_DATA", raising=False)
    test = opened("in-short")
    assert not test.exception
    assert "wearledger demo" in said(test)


def test_what_stands_out_begins_with_what_can_be_done(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    text = said(opened("in-short"))
    order = [text.index(begin) for begin in ("Order 6 of SL-6101", "One fault was found and left", "Wheel arch rear")]
    assert order == sorted(order)
    assert "25 (25 of 100)** faults without a place: left off the plan" in text


def test_nothing_standing_out_is_said_as_a_result(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["thin"]))
    text = said(opened("in-short"))
    assert "Nothing stands out. That is a result: 20 jobs on three cars" in text
    assert "**in pencil**, few records stand behind it" in text
    assert "1 of the 5 failures needed" in text


def test_a_life_curve_answers_at_the_chosen_age(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    test = opened("lasting", component="flap actuator", grouping="all together")
    slider = next(s for s in test.select_slider if s.label == "Ask at, years")
    slider.set_value(10 * 365).run()
    assert not test.exception
    assert "fail within 10 years" in said(test)


def test_distance_is_a_scale_of_its_own(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    text = said(opened("lasting", component="flap actuator", scale="distance"))
    assert " km (could be " in text
    assert "part-km" in text


def test_old_and_new_design_are_drawn_side_by_side(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    test = opened("lasting", component="flap actuator")
    assert drawings(test) == 2
    assert "of 20 of SL-7102 still work" in said(test)


@pytest.mark.parametrize(
    ("component", "says", "drawn"),
    [
        ("trigger unit", "No failure seen in 150 years of watching. The true rate could still be up to 1.7 a year", 1),
        ("window motor", "3 of the 5 failures needed for a firm figure: two more failures to go.", 1),
        ("coolant hose", "borrows from its family, rubber, group B: 41 failures over six components.", 1),
        ("coil", "Too little to say: one failure among nine parts. With four more failures a curve", 0),
    ],
)
def test_thin_evidence_is_said_and_drawn_as_thin(component, says, drawn, folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    test = opened("lasting", component=component)
    assert not test.exception
    assert says in said(test)
    assert drawings(test) == drawn


def test_rule_39_a_safety_critical_part_gets_no_life_and_a_caution(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    test = opened("lasting", component="fuel hose")
    text = said(test)
    assert "No remaining life is shown for fuel hose. Inspect by the maker's manual." in text
    assert drawings(test) == 0
    assert not re.search(r"still work|last about|last longer|fail within|Half of them", text)
    assert not test.select_slider
    assert len(test.warning) == 2
    assert "nine failures" in text


def test_rule_39_twenty_records_alone_show_no_life_of_what_sounds_critical(twenty_dir, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(twenty_dir))
    for component, word in (("brake hose", "brake"), ("fuel hose", "fuel"), ("hydraulic line", "hydraulic")):
        test = opened("lasting", component=component)
        assert f"No remaining life is shown for {component}." in said(test)
        assert f"critical by its name, for “{word}”; the components table can say otherwise" in said(test)
        assert not drawings(test)
        assert "**in ink**, from these records alone" in said(test)
        assert "only a limit is known" not in said(test)
        assert not re.search(r"still work|last about|last longer|No failure seen|Half of them", said(test))
    assert "No failure counts here so far, so no record is listed." in said(opened("lasting", component="brake hose"))
    assert "by its name" not in said(opened("lasting", component="window motor"))


def test_where_no_failure_has_a_tick_nothing_says_to_tap_one(twenty_dir, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(twenty_dir))
    text = said(opened("lasting", component="flap actuator"))
    assert "have no tick" in text
    assert "Every failure that counts." in text
    assert "Tap a tick" not in text


def test_rule_39_no_usual_gap_of_a_safety_critical_part(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    shown = {name: opened("where", component=name) for name in ("fuel hose", "flap actuator")}
    tables = {name: [set(table.value.columns) for table in test.dataframe] for name, test in shown.items()}
    columns = {name: next(each for each in every if "slot" in each) for name, every in tables.items()}
    assert "usual gap" in columns["flap actuator"]
    assert "usual gap" not in columns["fuel hose"]
    assert len(shown["fuel hose"].warning) == 2


def test_rule_39_the_front_page_tells_no_life_of_a_safety_critical_part(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    assert "uel hose" not in said(opened("in-short"))


def test_the_plan_names_the_place_and_what_the_records_leave_out(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    test = opened("where")
    assert "Wheel arch rear left: a fault on 14 visits of eleven cars, where about 4.3 would be chance" in said(test)
    assert "faults name no place" in said(test)
    assert drawings(test) == 4


def test_wider_areas_stand_in_a_rank_of_their_own(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    test = opened("where", fine="wider areas")
    assert not test.exception
    assert "one place" in said(test)
    assert drawings(test) == 2


def test_without_places_the_slots_are_still_told(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["buses"]))
    text = said(opened("where"))
    assert "30 faults so far, and none names a place on the car." in text
    assert "Engine: about 14 failures a year in 100 cars (could be 9.8 to 19)." in text


def test_the_shelf_looks_up_what_an_order_changes(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    test = opened("shelf", part="gas accumulator · SL-6101")
    assert "Order 6. In 12 of 20 outlooks the 6 on the shelf run out before the next delivery." in said(test)
    test.slider[0].set_value(2).run()
    assert "Ordering 2 brings that down to 6 of 20." in said(test)
    assert "Looks alike and does not fit: SL-6102, SL-6103." in said(test)
    assert "Stored gas" in test.warning[0].value


def test_the_shelf_says_when_nothing_was_counted(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    test = opened("shelf", part="flap actuator · SL-7102")
    assert "No stock count is known." in said(test)
    assert not test.slider


def test_a_brake_part_without_forecast_still_warns(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    test = opened("shelf", part="front brake hose · SL-5120")
    assert "no car takes it" in said(test)
    assert "Brakes stop the car" in test.warning[0].value


def test_one_car_tells_its_faults_left(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    test = opened("one-car")
    assert "Found and left:** front brake hose, left." in said(test)
    assert "most often renewed: battery, twice" in said(test)


def test_a_car_seen_once_has_nothing_to_compare(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    test = opened("one-car", car="LW1-00001")
    assert "First seen on 24 Nov 2026; nothing to compare yet." in said(test)
    assert drawings(test) == 0


def test_choices_of_one_component_do_not_stick_to_the_next(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    test = opened("lasting", component="flap actuator", level="SL-7102")
    for name in ("coolant hose", "trigger unit", "coil", "fuel hose", "window motor", "flap actuator"):
        test.selectbox(key="component").select(name).run()
        assert not test.exception, name


def test_every_link_of_the_front_page_names_choices_that_its_page_offers(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    lines = standing(data.current())
    assert len(lines) == 8
    for line in lines:
        test = opened(line.page, **line.choices)
        offered = {w.key: w.options for w in (*test.selectbox, *test.segmented_control)}
        for name, value in line.choices.items():
            assert value in offered[name], line
