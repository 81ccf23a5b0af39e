"""Probable misspellings are proposed, other things are not."""

import pytest

from analytics.ledger import proposals
from tests.fleet import ledger_of
from tests.ledger.feeds import CAR


def line(component=None, position=None, location=None, day="2020-01-01", **columns):
    line = {"vehicle_id": "A", "closed_on": day, "component": component, "position": position, "location": location}
    return line | columns


def proposed(**tables):
    found = proposals(ledger_of(**{"vehicles": [CAR], **tables}))
    return [(*row[:2], row[4]) for row in found.rows()]


@pytest.mark.parametrize(
    ("rare", "usual"),
    [
        ("thermosat", "thermostat"),
        ("fuel hoze", "fuel hose"),
        ("Calliper", "caliper"),
        ("hydralic pump", "hydraulic pump"),
        ("acumulater", "accumulator"),
        ("fuelhose", "fuel hose"),
        ("pump, water", "water pump,"),
        ("water pmup", "water pump"),
        ("brake hoe", "brake hose"),
    ],
)
def test_a_misspelling_is_proposed_for_the_usual_name(rare, usual):
    assert proposed(repairs=[line(rare), line(usual), line(usual)]) == [("component", rare, usual)]


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("hose 1", "hose 2"),
        ("left pump", "right pump"),
        ("inner seal", "outer seal"),
        ("fan belt", "fan bell housing"),
        ("heater fan", "heater tap"),
        ("fuel pump", "fuel lamp"),
        ("jet 1.5", "jet 15"),
        ("hose a", "hose b"),
    ],
)
def test_other_things_are_not_proposed(one, other):
    assert proposed(repairs=[line(one), line(other)]) == []


def test_two_declared_names_are_never_proposed_and_a_declared_one_is_the_usual():
    declared = [{"component": "hose", "system": "x"}]
    lines = [line("hose"), *[line("hoses")] * 5]
    assert proposed(repairs=lines, components=declared) == [("component", "hoses", "hose")]
    assert proposed(repairs=lines, components=[*declared, {"component": "hoses", "system": "x"}]) == []


def test_part_numbers_are_proposed_by_their_letters_and_figures_only():
    lines = [line("hose", part_no=no) for no in ("SL-1101", "SL 1101", "SL-1102", "SL-1110")]
    assert [pair[0] for pair in proposed(repairs=lines)] == ["part"]
    assert {*proposed(repairs=lines)[0][1:]} == {"SL-1101", "SL 1101"}


def test_what_is_read_as_one_already_is_not_proposed():
    lines = [line("fuel hoze"), line("Fuel Hoze"), line("fuel hose")]
    stated = [{"kind": "component", "old_name": "fuel hoze", "new_name": "fuel hose"}]
    assert len(proposed(repairs=lines)) == 1
    assert proposed(repairs=lines, same_now=stated) == []


def test_a_slip_in_a_side_is_proposed_and_another_side_is_not():
    lines = [line("hose", position) for position in ("rear left", "rear lefft", "rear right", "rear left")]
    assert proposed(repairs=lines) == [("position", "rear lefft", "rear left")]


def test_two_slips_of_one_name_lead_to_it_and_not_to_each_other():
    lines = [line(name) for name in ("coolant hose", "coolant hose", "coolant hoes", "colant hose")]
    usual = [("component", name, "coolant hose") for name in ("colant hose", "coolant hoes")]
    assert sorted(proposed(repairs=lines)) == usual
    assert sorted(proposed(repairs=lines[1:], components=[{"component": "coolant hose", "system": "x"}])) == usual
