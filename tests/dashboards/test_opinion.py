"""What an expert thinks of a life, beside the records: in words and on the page."""

import pytest

from dashboards.answers import opinion
from tests.dashboards.visits import opened, said

YEAR = 365.25
ROW = {
    **{"source": "bench", "first_years": 5.0, "first_good": 9.0, "second_years": 10.5, "second_good": 4.0},
    **{"cars": 3.0, "cars_counted": 3.0, "failures": 2, "opinion_life50": 9 * YEAR, "opinion_share": 0.7},
    **{"records_life50": None, "records_life50_lower": 4 * YEAR, "records_life50_upper": None},
    **{"life50": 8 * YEAR, "life50_lower": 6 * YEAR, "life50_upper": 11 * YEAR},
}


def test_the_opinion_is_told_as_it_was_given():
    told = opinion.stated(ROW)
    assert "(source: bench)" in told
    assert "of 10 newly fitted, 9 still work after 5 years and 4 after 10.5 years" in told
    assert told.endswith("It is worth 3 cars.")
    assert "counts for 5, the most" in opinion.stated({**ROW, "cars": 8.0, "cars_counted": 5.0})


def test_opinion_records_and_both_stand_below_each_other():
    assert opinion.beside(ROW).rows() == [
        ("the opinion alone", "9 years", ""),
        ("the records alone, 2 failures", "at least 4 years", ""),
        ("both together", "8 years", "could be 6 to 11 years"),
    ]


def test_a_life_beyond_experience_has_no_figure():
    far = {"records_life50": 300 * YEAR, "records_life50_lower": 90 * YEAR, "records_life50_upper": 900 * YEAR}
    assert opinion.beside({**ROW, **far}).row(1)[1:] == ("more than 50 years", "")


@pytest.mark.parametrize(("share", "begins"), [(0.7, "Most of"), (0.3, "About 30 % of")])
def test_how_much_is_opinion_is_said(share, begins):
    assert opinion.weighed({**ROW, "opinion_share": share})[0].startswith(begins)


@pytest.mark.parametrize(
    ("limits", "says"),
    [((12.0, 20.0), "last longer"), ((2.0, 5.0), "last less long"), ((12.0, None), "last longer"), ((4.0, 10.0), None)],
)
def test_records_that_contradict_it_say_so(limits, says):
    low, high = (None if limit is None else limit * YEAR for limit in limits)
    told = opinion.weighed({**ROW, "records_life50_lower": low, "records_life50_upper": high})
    assert told[-1] == opinion.ELSEWHERE
    assert [says in sentence for sentence in told[1:-1]] == ([True] if says else [])


def test_it_stands_on_the_page_of_its_component_alone(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    text = said(opened("lasting", component="flap actuator"))
    assert "of 10 newly fitted, 9 still work after 5 years" in text
    assert "counts for 5" in text
    assert "newly fitted" not in said(opened("lasting", component="coolant hose"))
