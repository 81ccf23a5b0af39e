"""Where there is little, a page says how much more it takes, and what to load."""

import pytest

from dashboards.answers import places, slots
from dashboards.answers.life import life_answer
from tests.dashboards.snapshot_rows import AS_OF, YEAR, frame, group, model_row
from tests.dashboards.visits import drawings, opened, said


@pytest.fixture
def sales(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["sales"]))


@pytest.fixture
def twenty(twenty_dir, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(twenty_dir))


@pytest.mark.usefixtures("sales")
def test_sales_alone_are_what_was_used():
    test = opened("shelf")
    text = said(test)
    assert "Sold over the counter in the last 3 years" in text
    assert "names a part" not in text
    assert "No job stands behind this: sales over the counter alone do." in text
    listed, sold = (element.value for element in test.dataframe)
    assert listed["a month"].tolist() == [2.5, 0.056]
    assert sold["sold or asked for"].tolist() == [90, 2]


@pytest.mark.usefixtures("sales")
def test_words_agree_with_the_service_level_in_use():
    assert "In 99 of 100 outlooks at most seven parts are needed" in said(opened("shelf"))


@pytest.mark.usefixtures("sales")
def test_with_sales_alone_the_front_page_leads_to_the_shelf():
    text = said(opened("in-short"))
    assert "SL-7102 (flap actuator) is asked for: about 2.5 in a month." in text
    assert "SL-4101 is asked for: about 0.67 in a year." in text
    assert "Two parts are known: see the page On the shelf." in text
    assert "Nothing stands out" not in text
    assert "no jobs" not in text


@pytest.mark.usefixtures("sales")
@pytest.mark.parametrize(
    ("page", "load"),
    [
        ("in-short", "load vehicles and repairs"),
        ("lasting", "Load vehicles and repairs"),
        ("where", "Load repairs"),
        ("one-car", "Load vehicles and repairs"),
    ],
)
def test_with_sales_alone_every_other_page_says_what_to_load(page, load):
    assert load in said(opened(page))


def test_with_nothing_at_all_the_front_page_says_what_to_load(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["nothing"]))
    text = said(opened("in-short"))
    assert "No job is known yet, so nothing can stand out." in text
    assert "load vehicles and repairs" in text
    assert "Load repairs with part_no filled in" in said(opened("shelf"))


def test_the_shelf_lists_every_part_and_begins_with_the_first_to_order(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    test = opened("shelf")
    assert test.selectbox(key="part").value == "SL-6101"
    listed = next(e.value for e in test.dataframe if "reorder point" in e.value.columns)
    assert listed["part_no"].tolist() == ["SL-6101", "SL-5120", "SL-7102"]
    assert listed["order"].tolist()[0] == 6


@pytest.mark.usefixtures("twenty")
def test_of_twenty_jobs_a_slot_s_rate_and_curve_say_how_many_more_they_take():
    test = opened("where")
    text = said(test)
    assert "1 of the 5 failures needed for a firm figure: four more failures to go." in text
    assert "No curve: it takes five cars of known age watched at one age. Three cars are known so far." in text
    assert "With faults on about 20 more visits it would be noticed about every second time." in text
    assert drawings(test) == 0


@pytest.mark.usefixtures("twenty")
def test_failures_that_do_not_count_contradict_no_sentence():
    text = said(opened("lasting", component="drain tube"))
    assert "No failure counted in 4.3 years of watching." in text
    assert "The records tell of two failures of this component, all outside the time counted here" in text
    assert "No failure seen" not in text
    assert "Only 1 of 2" not in text


def test_no_failure_recorded_is_still_no_failure_seen():
    of = {"basis": "bound only", "status": "bound only", "rate_upper": 1.7}
    row = frame("life_model", [{**model_row(group("coil"), 0, 23, None), **of}]).row(0, named=True)
    assert life_answer(row, None, AS_OF).sentence.startswith("No failure seen in 150 years")
    elsewhere = {**row, "grouping": "variant", "level": "new", "events_seen": 40, "events_used": 40}
    here = {"time": YEAR, "survival": None, "lower": 0.9, "upper": None}
    assert "No failure seen" in life_answer(elsewhere, here, AS_OF).sentence
    lost = life_answer({**row, "events_seen": 1, "events_used": 0}, here, AS_OF)
    assert "No failure counted" in lost.sentence
    assert any(note.startswith("The records tell of one failure of this component, outside") for note in lost.notes)


def test_a_curve_that_starts_late_says_from_which_age_on_it_counts():
    assert slots.counted_from(0, "age") == ""
    assert slots.counted_from(5114, "age").startswith("Counted from an age of 14 years on, where enough cars")
    assert slots.counted_from(82_000, "distance").startswith("Counted from 82\u202f000 km on")


def test_why_there_is_no_curve_names_the_cars_it_takes():
    assert slots.no_curve(1, 5).endswith("One car is known so far.")
    assert slots.no_curve(40, 5).endswith("fewer than five were watched at any one age.")


@pytest.mark.parametrize(("expected", "more"), [(1.0, "about 10 more visits"), (2.9, ""), (3.1, ""), (9.5, "")])
def test_what_could_be_noticed_says_how_many_faults_more(expected, more):
    row = {"series": "all", "basis": "average place", "observed": 1, "vehicles": 1, "expected": expected, "ratio": 1.0}
    shown = places.ready(frame("fault_location", [{**row, "location": str(k)} for k in range(5)]))
    assert (more or "noticed") in places.noticed(shown)
    assert ("more visits" in places.noticed(shown)) == (expected < 3)


def test_no_fault_at_all_is_not_a_fault_without_a_place():
    assert places.none_named(0)[0] == "No fault is known yet."
    assert places.none_named(1)[0] == "One fault so far, and none names a place on the car."


@pytest.mark.usefixtures("twenty")
def test_of_twenty_records_places_are_counted_and_none_is_set_above_another():
    test = opened("where")
    text = said(test)
    assert "No place can be told from another yet: ten faults at ten places." in text
    assert "in ink" not in text.split("Slot by slot")[0]
    assert drawings(test) == 0
    counted = test.dataframe[0].value
    assert counted["visits"].tolist() == [1] * 10
    assert "Tap a place" not in text


@pytest.mark.usefixtures("twenty")
def test_the_page_of_lives_begins_with_a_part_of_which_a_life_may_be_shown():
    assert "Safety-critical" not in said(opened("lasting"))
