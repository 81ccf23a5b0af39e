"""One car's story on the command line: what is known is said as such, and a terminal gets text only."""

import unicodedata

import pytest

from analytics.car_story import as_html, as_text, car_story, without_controls
from analytics.snapshot import latest_path
from tests.conftest import loaded

HEAD = "record_id,vehicle_id,opened_on,closed_on,component,position,finding,action,reason"


@pytest.fixture(scope="module")
def story(tmp_path_factory):
    """The story of a car built in a year, with days told as years and months, and with what a terminal obeys."""
    folder = tmp_path_factory.mktemp("story") / "feed"
    folder.mkdir()
    (folder / "vehicles.csv").write_text("vehicle_id,series,built_on\na,S\x1b[31m1,1975\nb,S\x1b[31m1,1980-02-03\n")
    lines = [
        "1,a,,2019-02,brake hose,front,cracked,inspected,planned",
        "2,a,2019-03-01,2019-03-01,brake hose,front,good,inspected,planned",
        "3,a,2019-04-01,2019-04-02,brake hose,front,,replaced,failure",
        "4,a,,2020,coolant hose,top,,replaced,failure",
        "5,a,2021-04-01,2021-04-02,brake hose,\x1b]0;title\x07front\u202e,,replaced,failure",
        "6,b,1980-05-01,1980-05-02,coolant hose,top,good,inspected,planned",
        "7,b,1990-05-01,1990-05-02,window motor,,,replaced,failure",
    ]
    (folder / "repairs.csv").write_text("\n".join([HEAD, *lines]) + "\n")
    fitted = "vehicle_id,component,position,fitted_from,fitted_to\na,window motor,only,1999-01-01,1999-12-31\n"
    (folder / "fitted.csv").write_text(fitted)
    data = loaded(tmp_path_factory.mktemp("story_data"), folder)
    return lambda car: car_story(latest_path(data), car)


def test_a_cracked_hose_is_inspected_and_not_good(story):
    text = as_text(story("a"))
    assert "brake hose front: inspected (planned)" in text
    assert "brake hose front: inspected, found good (planned)" in text
    assert text.index("inspected (planned)") < text.index("inspected, found good")


def test_a_day_of_which_only_the_month_or_year_was_told_is_near_it(story):
    text = as_text(story("a"))
    assert "built about 1975-07-01" in text
    assert "about 2019-02-15  job 1" in text
    assert "coolant hose top: since about 2020-07-01" in text
    assert "about 2019-03-01" not in text


def test_what_is_in_place_says_how_its_day_is_known(story):
    text = as_text(story("a"))
    assert "\nIn place on 2021-04-02:" in text
    assert "window motor: since about 1999-07-02, by the owner's papers" in text
    assert "Fitted on" not in text + as_html(story("a"))
    told = as_text(story("b"))
    assert "built 1980-02-03" in told
    assert "coolant hose top: since the car was built, 1980-02-03" in told
    assert "window motor: since 1990-05-02" in told


@pytest.mark.parametrize("form", [as_text, as_html])
def test_no_sign_that_a_terminal_obeys_is_printed(story, form):
    shown = form(story("a"))
    assert not [sign for sign in shown if unicodedata.category(sign) in ("Cc", "Cf") and sign != "\n"]
    assert "title" not in shown.split("<title>")[0]
    assert "series S1," in shown


@pytest.mark.parametrize(
    ("raw", "shown"),
    [
        ("plain, à la carte – 3 µm", "plain, à la carte – 3 µm"),
        ("a\x1b[2J\x1b[1;1Hb", "ab"),
        ("a\x9b31mb", "ab"),
        ("a\x1b]8;;file:///x\x1b\\b", "ab"),
        ("a\x1b]0;never ended", "a0;never ended"),
        ("a\r\n\tb\x00\x85c", "a b c"),
    ],
)
def test_escape_sequences_go_and_control_signs_become_a_space(raw, shown):
    assert without_controls(raw) == shown
