"""What each batch means, in words and in a table; nothing where no batch is compared."""

import pytest

from dashboards.answers import last_buy
from tests.dashboards import snapshots
from tests.dashboards.snapshot_rows import AS_OF, Fleet, frame, write
from tests.dashboards.visits import opened, said

ROW = {"part_no": "SL-6101", "components": "gas accumulator", "horizon_days": 55.0, "service_level": 0.9, "repairs": 31}
ROW |= {
    "method": "installed base",
    "car_years": 860.0,
    "reason": "Why.",
    "on_hand": 6.0,
    "unit_cost": 95.0,
    "currency": "EUR",
}
END = {"part_no": "SL-6101", "years": 10.0, "held": 6.0, "cars_leave": True}
NONE = {**END, "batch": 0, "p_enough": 0.0, "expected_unmet": 41.2, "expected_left": 0.0}
NONE |= {"runs_out_p10": 0.5, "runs_out_p50": 0.9, "runs_out_p90": 1.6}
ONE = {**END, "batch": 30, "p_enough": 0.31, "expected_unmet": 12.3, "expected_left": 1.2}
ONE |= {"runs_out_p10": 4.2, "runs_out_p50": 7.0, "runs_out_p90": None}
TWO = {**END, "batch": 60, "p_enough": 0.97, "expected_unmet": 0.4, "expected_left": 19.0}


def row(**more):
    return frame("reorder", [{**ROW, **more}]).row(0, named=True)


def batches(*rows):
    return frame("supply_end", list(rows or (TWO, NONE, ONE)))


def test_the_smallest_order_and_none_at_all_are_said():
    told = last_buy.told_of(batches(), row(), AS_OF)
    assert told.sentence == (
        "30 bought now are enough for 10 years in 6 of 20 outlooks; in half of them all are gone within 7 years. "
        "Without them half of the outlooks run out within 11 months."
    )
    assert told.state == "ink"
    assert told.notes == (
        "None of the batches compared lasts 10 years as surely as asked for.",
        "Cars that leave, and cars that join, are counted.",
    )


def test_the_batch_to_choose_is_named_with_its_reason_and_pledges_are_counted_in():
    least = last_buy.told_of(batches(NONE, ONE, {**TWO, "advised": True}), row(), AS_OF).notes
    assert least[0] == "To choose: 60, the least of these that lasts 10 years as surely as asked for."
    costs = {"expected_cost": 900.0, "regret": 0.0, "currency": "EUR", "pledged": 12.0}
    cheapest = batches({**NONE, **costs, "regret": 512.5}, {**ONE, **costs, "advised": True})
    notes = last_buy.told_of(cheapest, row(), AS_OF).notes
    assert notes[0].startswith("To choose: 30, the cheapest of these")
    assert notes[1] == (
        "12 are pledged by buyers whose cars are not in care: taken at once, on top of what your cars need."
    )
    assert last_buy.listed(cheapest, row())["dearer than the best by"].to_list() == ["512.50 EUR", "0.00 EUR"]


def test_pledges_of_cars_in_care_are_said_not_to_be_counted_twice():
    notes = last_buy.told_of(batches({**NONE, "pledged_in_care": 1.0}, ONE), row(), AS_OF).notes
    assert notes[1] == (
        "1 is pledged by owners of cars in care: taken at once, as a part of what these cars need, and not counted "
        "twice."
    )


@pytest.mark.parametrize(
    ("first", "more", "says"),
    [
        (
            {"pays_from": 14},
            {"minimum_order": 30},
            "A batch of 30 pays from 14 pledges of buyers whose cars are not in care: it is then used up within 10 "
            "years in 18 of 20 outlooks.",
        ),
        (
            {"pays_from": 0, "expected_cost": 80.0},
            {"minimum_order": 30},
            "A batch of 30 pays without a pledge: it is then no dearer than buying none.",
        ),
        ({"pays_from": 14}, {"minimum_order": 1}, None),
        ({}, {"minimum_order": 30}, None),
    ],
)
def test_how_many_pledges_make_a_batch_pay_is_said_where_no_fewer_than_a_batch_can_be_had(first, more, says):
    some = batches(NONE, {**ONE, **first})
    notes = last_buy.told_of(some, row(**more), AS_OF).notes
    assert [note for note in notes if " pays " in note] == ([says] if says else [])
    shown = last_buy.listed(some, row(**more))
    assert ("pledges needed" in shown.columns) == (says is not None)
    assert ("Pledges needed:" in last_buy.how_to_read(some, row(**more))) == (says is not None)


def test_a_rate_that_stays_as_it_is_is_told_in_pencil():
    still = [{**each, "cars_leave": False} for each in (NONE, ONE)]
    told = last_buy.told_of(batches(*still), row(), AS_OF)
    assert told.state == "pencil"
    assert told.notes[1].endswith("a batch lasts longer than said here.")


def test_what_ages_on_the_shelf_is_lost_however_long_a_batch_lasts():
    notes = last_buy.told_of(batches(), row(shelf_life_months=84.0), AS_OF).notes
    assert notes[2].startswith("It keeps 7 years from the day it was made: what is left over then is lost")
    assert len(last_buy.told_of(batches(), row(shelf_life_months=180.0), AS_OF).notes) == 2


def test_a_batch_that_would_age_is_not_advised():
    ages = last_buy.told_of(batches(NONE, ONE, {**TWO, "advised": True}), row(shelf_life_months=84.0), AS_OF).notes
    assert ages[0] == "60 would last 10 years, but it keeps 7 years only: buy no more than is used in that time."


def test_the_shelf_life_is_said_too_where_no_further_is_looked_ahead():
    seven = [{**each, "years": 7.0, "advised": each is TWO} for each in (NONE, ONE, TWO)]
    notes = last_buy.told_of(batches(*seven), row(shelf_life_months=84.0), AS_OF).notes
    assert notes[0] == "To choose: 60, the least of these that lasts 7 years as surely as asked for."
    assert notes[2].startswith("It keeps 7 years from the day it was made")


@pytest.mark.parametrize(
    ("none", "says"),
    [
        ({"held": 0.0}, "None is on the shelf or due."),
        ({"runs_out_p50": None}, "likely enough without them."),
        ({"runs_out_p50": 0.0}, "Without them there are not enough for those pledged."),
    ],
)
def test_nothing_held_and_enough_held_are_said(none, says):
    assert last_buy.told_of(batches({**NONE, **none}, ONE), row(), AS_OF).sentence.endswith(says)


def test_an_uncounted_shelf_is_not_said_to_be_empty():
    told = last_buy.told_of(batches({**NONE, "held": 0.0}, ONE), row(on_hand=None), AS_OF)
    assert told.sentence.endswith("No stock count is known, so whatever is on the shelf comes on top.")
    assert "held and due" not in told.evidence


def test_the_table_holds_every_batch_and_what_is_never_gone_is_later():
    shown = last_buy.listed(batches(), row())
    assert shown["bought now"].to_list() == [0, 30, 60]
    assert shown["enough in"].to_list() == ["0 of 20", "6 of 20", "19 of 20"]
    assert shown["gone, in 18 of 20"].to_list() == ["within 1.6 years", "later", "later"]
    assert shown["costs"].to_list() == ["0.00 EUR", "2,850.00 EUR", "5,700.00 EUR"]
    assert "costs" not in last_buy.listed(batches(), row(unit_cost=None)).columns


def test_the_page_shows_it_for_a_part_that_is_bought_by_the_batch_and_for_no_other(tmp_path, monkeypatch):
    fleet = Fleet()
    snapshots._stock(fleet)
    fleet.rows["supply_end"] = [NONE, ONE, TWO]
    monkeypatch.setenv("WEARLEDGER_DATA", str(write(tmp_path, fleet.rows, "2026-11-24-batches1")))
    test = opened("shelf", part="gas accumulator · SL-6101")
    assert not test.exception
    assert "How long does a batch last?" in said(test)
    assert "How long does a batch last?" not in said(opened("shelf", part="flap actuator · SL-7102"))
