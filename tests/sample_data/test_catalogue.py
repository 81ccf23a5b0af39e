"""The invented catalogue holds together: every part has its component, ranges and relations contradict nothing."""

from itertools import combinations

import pytest

from sample_data.catalogue import candidate_places, components, scenario_rows, series, symptoms
from sample_data.parts import factory_part, fits, fitting, part_of_year, parts
from sample_data.places import HOT_PLACE, HOT_SERIES, expected_share, points


def overlap(a, b):
    low = max(a.serial_from or "", b.serial_from or "")
    high = min(a.serial_to or "~", b.serial_to or "~")
    return a.series == b.series and low <= high and (a.position == b.position or "" in {a.position, b.position})


def chain(part_no):
    found = [part_no]
    while parts()[found[-1]].superseded_by:
        found.append(parts()[found[-1]].superseded_by)
        assert len(found) < 10, "a chain of numbers that never ends"
    return found


def test_it_has_the_size_the_scenario_says():
    assert len({part.system for part in components().values()}) == 12
    assert len(components()) == 41 + 1  # the speedometer, which is only exchanged
    assert sum(len(part.positions) for part in components().values()) == 63 + 1
    assert len(points()) == 41
    assert len(parts()) == 35
    assert len(scenario_rows("wordings")) == 25


def test_every_part_has_a_component_and_fits_positions_it_has():
    for part in parts().values():
        assert part.code in components()
        assert any(fit.part_no == part.part_no for fit in fits())
    for fit in fits():
        part = components()[parts()[fit.part_no].code]
        assert fit.position in {"", *part.positions}
        assert fit.series in part.series


def test_two_parts_that_fit_the_same_car_replace_one_another():
    for a, b in combinations(fits(), 2):
        same = parts()[a.part_no].code == parts()[b.part_no].code and a.part_no != b.part_no
        if same and overlap(a, b):
            assert b.part_no in chain(a.part_no) or a.part_no in chain(b.part_no), (a, b)


def test_look_alikes_never_interchange():
    alike = [part for part in parts().values() if part.looks_like]
    assert len(alike) >= 10
    for part in alike:
        assert part.looks_like not in chain(part.part_no)
        assert part.part_no not in chain(part.looks_like)
        ours, theirs = ([fit for fit in fits() if fit.part_no == no] for no in (part.part_no, part.looks_like))
        assert not any(overlap(a, b) and a.part_no != b.part_no for a in ours for b in theirs), part.part_no


def test_a_superseded_part_ends_in_a_year_and_fits_wherever_its_successor_is_asked():
    for part in parts().values():
        assert bool(part.superseded_by) == (part.last_year < 99)
        for fit in fits():
            if fit.part_no == part.part_no and part.superseded_by:
                serial = fit.serial_to or f"{series()[fit.series].prefix}-00001"
                position = fit.position or components()[part.code].positions[0]
                assert part.superseded_by in [p.part_no for p in fitting(part.code, position, fit.series, serial)]


@pytest.mark.parametrize(
    ("serial", "number"), [("LW2-08099", "SL-7101"), ("LW2-08100", "SL-7102"), ("LW2-00001", "SL-7101")]
)
def test_the_compound_of_the_factory_changes_at_one_serial(serial, number):
    assert factory_part("vact", "foot", "S2", serial) == number


def test_the_first_compound_is_fitted_until_year_six_and_the_second_beside_it():
    found = fitting("vact", "foot", "S2", "LW2-08099")
    assert {part_of_year(found, 5.9, early) for early in (0.1, 0.9)} == {"SL-7101", "SL-7102"}
    assert {part_of_year(found, 6.0, early) for early in (0.1, 0.9)} == {"SL-7102"}


def test_every_position_has_places_and_every_component_its_words():
    for part in components().values():
        for position in part.positions:
            assert set(candidate_places()[part.code, position]) <= set(points())
        assert symptoms()[part.code].complaints
        assert symptoms()[part.code].silent
    assert set(candidate_places()) == {(p.code, position) for p in components().values() for position in p.positions}


def test_every_place_has_a_parent_and_left_is_the_cars_own_left():
    rows = {row["location"]: row for row in scenario_rows("locations")}
    for row in rows.values():
        assert not row["parent"] or row["parent"] in rows
        if row["x"]:
            x, y = float(row["x"]), float(row["y"])
            assert 0 <= x <= 1
            assert 0 <= y <= 1
            assert "left" not in row["location"] or x < 0.5
            assert "right" not in row["location"] or x > 0.5
            assert (row["deck"] == "below") == (rows[rows[row["parent"]]["parent"]]["location"] == "underbody")


def test_no_place_but_the_planted_one_is_met_much_more_often_than_others():
    for name in series():
        shares = expected_share(name)
        hot = shares.pop(HOT_PLACE)
        assert max(shares.values()) < 1.25
        assert min(shares.values()) > 0.7
        assert hot == pytest.approx(3.0 if name == HOT_SERIES else 1.0, abs=0.15)
