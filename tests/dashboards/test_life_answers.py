"""What is said about a life, state by state."""

from datetime import date

import polars as pl
import pytest

from dashboards.answers import curves
from dashboards.answers.life import evidence, life_answer, noun, state_of, untold
from tests.dashboards.snapshot_rows import YEAR, frame, group, model_row

UNTIL = date(2026, 11, 24)


def model(failures, life50=8.0 * YEAR, **more):
    row = model_row(group("flap actuator"), failures, 63, life50, **more)
    return frame("life_model", [row]).row(0, named=True)


def here(survival=0.65, lower=0.47, upper=0.79):
    return {"time": 3 * YEAR, "survival": survival, "lower": lower, "upper": upper}


@pytest.mark.parametrize(
    ("failures", "basis", "status", "state"),
    [
        (0, "bound only", "bound only", "one-sided"),
        (1, "own", "too few", "blank"),
        (4, "own", "ok", "one-sided"),
        (4, "own", "unlike family", "one-sided"),
        (4, "family", "ok", "pencil"),
        (5, "own", "ok", "ink"),
        (9, "own", "upper open", "ink"),
        (9, "own", "no finite estimate", "blank"),
    ],
)
def test_rule_34_says_how_a_life_is_known(failures, basis, status, state):
    assert state_of({"failures": failures, "basis": basis, "status": status}) == state


def test_a_firm_life_is_said_at_the_asked_age_with_its_limits():
    said = life_answer(model(35), here(), UNTIL)
    assert said.sentence == "About 7 of 20 such parts fail within 3 years (could be 4 to 11)."
    assert "**35 failures**  ·  63 parts  ·  409 part-years" in said.evidence
    assert said.notes == ("Half of them last about 8 years (could be 6.1 to 11 years).",)


def test_a_life_without_upper_end_says_at_least():
    row = model(9, status="upper open") | {"life50": None, "life50_upper": None}
    assert life_answer(row, here(), UNTIL).notes == (
        "Half of them last at least 6.1 years; how much longer, the records do not say.",
    )


def test_few_failures_without_a_family_give_the_lower_end_only():
    said = life_answer(model(3), here(), UNTIL)
    assert said.state == "one-sided"
    assert (
        said.sentence
        == "At least 9 of 20 such parts last longer than 3 years; how much longer, the records do not say."
    )


def test_a_life_of_centuries_is_no_figure():
    row = model(9, life50=523.0 * YEAR)
    assert life_answer(row, here(), UNTIL).notes == (
        "Half of them outlast anything that was ever watched here; no figure of that length can be leant on.",
    )


def test_steps_that_start_late_begin_on_the_curve():
    late = frame("survival_curve", [{"time": 6 * YEAR, "survival": 0.5, "at_risk": 9, "given_lasted_to": 5 * YEAR}])
    shown = curves.steps(late, SURVIVAL, "age", 20 * YEAR)
    assert shown["survival"].to_list() == pytest.approx([0.8, 0.4])  # SURVIVAL is 0.8 at five years
    early = late.with_columns(given_lasted_to=pl.lit(0))
    assert curves.steps(early, SURVIVAL, "age", 20 * YEAR)["survival"].to_list() == [1.0, 0.5]


def test_rule_39_no_note_tells_a_life_of_a_safety_critical_part():
    assert life_answer(model(35, safety_critical=True), here(), UNTIL).notes == ()


def test_failures_outside_the_window_are_counted_aloud():
    said = life_answer(model(35) | {"events_seen": 60, "events_used": 35}, here(), UNTIL)
    assert any(note.startswith("Only 35 of 60 failures lie within") for note in said.notes)
    assert not any("Only" in n for n in life_answer(model(35) | {"events_seen": 50}, here(), UNTIL).notes)


@pytest.mark.parametrize(("recorded", "events", "told"), [(8, 10, False), (7, 10, True), (0, 0, False)])
def test_rule_8_many_records_without_a_reason_are_told(recorded, events, told):
    assert bool(untold(recorded, events)) is told


@pytest.mark.parametrize(
    ("grouping", "level", "name"),
    [
        ("component", "all", "such parts"),
        ("variant", "SL-7101", "of SL-7101"),
        ("series", "S2", "on S2"),
        ("position", "screen", "at screen"),
        ("part_origin", "used", "parts of origin “used”"),
        ("action", "overhauled", "parts, overhauled,"),
    ],
)
def test_parts_are_named_by_their_group(grouping, level, name):
    assert noun(grouping, level) == name


SURVIVAL = pl.DataFrame({"time": [YEAR * k for k in range(1, 21)], "survival": [1 - k / 25 for k in range(1, 21)]})


def spells(*exits):
    rows = [{"exit": exit_, "position": f"p{k}", "start_record": "S"} for k, exit_ in enumerate(exits)]
    return frame("spell", rows)


def test_a_curve_is_firm_while_five_units_are_watched():
    many = spells(900, 800, 2000, 1500, 1200, 400)
    assert curves.firm_to(many, SURVIVAL, 5) == 2 * YEAR  # the fifth longest was watched for 800 days
    assert curves.firm_to(spells(900, 800), SURVIVAL, 5) == 0


def test_a_drawing_ends_a_little_past_what_was_watched():
    assert curves.drawn_to(SURVIVAL, 8 * YEAR, spells(9 * YEAR)) == 10 * YEAR
    assert curves.drawn_to(SURVIVAL, 0, spells(3 * YEAR - 9)) == 3 * YEAR
    assert curves.drawn_to(SURVIVAL, 19 * YEAR, spells(19 * YEAR)) == 20 * YEAR


def test_at_most_forty_ages_can_be_asked_at():
    fine = pl.DataFrame({"time": list(range(0, 1000, 10))})
    options = curves.ask_options(fine, 990)
    assert len(options) <= 40
    assert 0 not in options
    assert set(options) <= set(fine["time"])


def test_failures_carry_their_records_and_an_age_only_where_it_is_known():
    told = frame("record", [{"record": "R1/1", "record_id": "R1", "closed_on": UNTIL, "action": "replaced"}])
    ended = [
        {"event": 1, "exit": 900, "end_record": "R1/1", "age_known": True},
        {"event": 1, "exit": 700, "end_record": "gone/1", "age_known": False},
        {"event": 0, "exit": 100},
    ]
    shown = curves.failures(frame("spell", ended), told)
    assert shown["record_id"].to_list() == ["R1", "gone/1"]
    assert shown["time"].to_list() == [900, None]


def test_a_group_of_repairs_is_found_by_the_line_that_fitted_it():
    told = frame("record", [{"record": "S", "action": "overhauled"}])
    mixed = pl.concat([spells(900), spells(800).with_columns(start_record=pl.lit(None, dtype=pl.String))])
    assert curves.of_group(mixed, told, "action", "overhauled")["exit"].to_list() == [900]
    assert curves.of_group(mixed, told, "action", "as found")["exit"].to_list() == [800]


def test_a_design_read_off_a_dead_part_makes_no_group():
    told = spells(900, 800, 700).with_columns(
        variant=pl.lit("SL-1"), variant_told_by=pl.Series(["fitting", "taking out", "factory"])
    )
    assert curves.of_group(told, told, "variant", "SL-1")["exit"].to_list() == [900, 700]
    assert curves.of_group(told, told, "variant", "unknown")["exit"].to_list() == [800]


def test_steps_speak_where_most_have_failed_before_the_first_age_computed():
    rows = [{"time": 10 * k, "survival": 1 - k / 10, "lower": 0.1, "at_risk": 12 - k} for k in range(1, 9)]
    short = frame("survival_curve", rows)
    gone = SURVIVAL.with_columns(pl.col("survival") - 0.3)
    assert curves.told_by_steps(short, gone)
    assert not curves.told_by_steps(short, SURVIVAL)
    assert not curves.told_by_steps(short.head(3), gone)
    assert curves.firm_steps(short, 5) == 70
    drawn = curves.law_of_steps(short, "distance", 80)
    assert drawn["time"].to_list()[:2] == [0.0, 0.01]
    assert drawn["upper"].null_count() == 0


def test_one_record_without_a_reason_is_said_in_the_singular():
    assert untold(2, 3) == "1 of 3 records behind this tells no reason and was read as a failure."
    assert untold(0, 1) == "1 of 1 record behind this tells no reason and was read as a failure."
    assert untold(1, 3) == "2 of 3 records behind this tell no reason and were read as failures."


def test_a_borrowed_life_says_so_in_its_evidence():
    row = {"unit_time": 3650.0, "scale": "age", "failures": 1, "units": 2}
    assert "in pencil**, borrowed from its family" in evidence(row, "pencil", UNTIL)
