"""Words with a meaning of their own in the results are never taken for a series, a slot or a design."""

import pytest

from analytics.records import propose_mapping
from tests.records.feeds import LOADED_ON, accepted, feed, judged, quarantined, set_aside


@pytest.mark.parametrize("word", ["all", "ALL", " All ", "only", "Only"])
@pytest.mark.parametrize("name", ["repairs", "components", "parts", "fitted"])
def test_a_slot_called_all_or_only_is_read_as_empty_and_told(name, word):
    value, written, says = set_aside(name, position=word)
    assert (value, written) == (None, word.strip())
    assert "is a word reserved for the results: read as empty" in says


@pytest.mark.parametrize(
    ("name", "column", "word"),
    [
        ("components", "series", "all"),
        ("parts", "series", "All"),
        ("parts", "variant", "unknown"),
        ("parts", "variant", "all"),
    ],
)
def test_a_series_or_design_with_a_reserved_word_is_read_as_empty_and_told(name, column, word):
    value, written, says = set_aside(name, **{column: word})
    assert (value, written) == (None, word)
    assert "reserved" in says


def test_a_car_of_a_series_called_all_goes_to_quarantine_with_what_to_write_instead():
    found = quarantined("vehicles", series="All")
    assert (found["column"], found["value"]) == ("series", "All")
    assert "'All' is a word reserved for the results: name the family of cars instead" in found["says"]


def test_words_that_only_begin_so_stay_as_they_are():
    assert accepted("vehicles", series="allroad")["series"] == "allroad"
    assert accepted("repairs", position="only left")["position"] == "only left"
    assert judged("parts", {"variant": "unknown maker"}).set_aside.is_empty()


def test_a_proposal_never_proposes_a_reserved_word(tmp_path):
    proposal = propose_mapping(feed(tmp_path, jobs="Job,Car,Date\n1,a,2020-01-02\n"), LOADED_ON)
    assert 'constants = { series = "one series" }  # guess: name your series' in proposal
    assert '"all"' not in proposal
