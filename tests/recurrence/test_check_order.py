"""Where to look first: a worked case by hand, what is borrowed, safety first, covers, ties, and what is not known."""

import polars as pl
import pytest
from scipy import stats

from analytics.parameters import Parameters
from analytics.recurrence.check_order import check_orders
from analytics.recurrence.check_replay import check_replay
from analytics.recurrence.complaints import own_words, published
from tests.recurrence.causes import NO_PLACES, causes, facts, job, places

P = Parameters()
MINUTES = {"battery": 4, "alternator": 10, "regulator": 8}


def ordered(cause, fact=None, locations=NO_PLACES, critical=(), **equals):
    fact = facts(MINUTES) if fact is None else fact
    table = check_orders(cause, fact, locations, list(critical), P)
    for name, value in equals.items():
        table = table.filter(pl.col(name) == value)
    return table.to_dicts()


def charges():
    own = [*["battery"] * 3, *["alternator"] * 4, "regulator"]
    others = [*["battery"] * 2, *["regulator"] * 2]
    return [job("no charge", each) for each in own] + [job("no charge", each, "S1") for each in others]


def test_a_worked_case_by_hand():
    # own 3, 4, 1 jobs; the other series' four jobs weigh four: 2 battery, 2 regulator; one for what nobody met: 13
    chance = {"battery": 5 / 13, "alternator": 4 / 13, "regulator": 3 / 13}
    # found in 5, 4, 3 jobs, never missed, before them 19 of 20
    finds = {"battery": 24 / 25, "alternator": 23 / 24, "regulator": 22 / 23}
    rows = ordered(causes(*charges()), series="S2")
    assert [row["component"] for row in rows] == ["battery", "alternator", "regulator"]
    left, spent, clock = 1.0, 0.0, 0.0
    for step, row in enumerate(rows, start=1):
        name = row["component"]
        spent, clock = spent + left * MINUTES[name], clock + MINUTES[name]
        left -= chance[name] * finds[name]
        assert row["step"] == step
        assert row["probability"] == pytest.approx(chance[name])
        assert row["sensitivity"] == pytest.approx(finds[name])
        assert row["expected_minutes_so_far"] == pytest.approx(spent)
        assert row["minutes_after"] == pytest.approx(clock)
        assert row["found_by_now"] == pytest.approx(1 - left)
        assert (row["own_jobs"], row["family_jobs"], row["basis"]) == (8, 4, "own")
        assert row["probability_lower"] < row["probability"] < row["probability_upper"]
    # made now and not last, the battery saves its share of 18 minutes and costs the others' share of 4
    assert rows[0]["minutes_saved"] == pytest.approx(
        chance["battery"] * finds["battery"] * 18
        - 4 * (chance["alternator"] * finds["alternator"] + chance["regulator"] * finds["regulator"])
    )
    assert rows[-1]["minutes_saved"] == 0
    assert [row["jobs"] for row in rows] == [3, 4, 1]


def minutes_of(way, chance, behind):
    """Return the mean minutes of an order of checks, by a plain loop; a place takes 20 minutes to open, once."""
    left, spent, opened = 1.0, 0.0, set()
    for name in way:
        opens = 20 if behind.get(name) and behind[name] not in opened else 0
        opened.add(behind.get(name))
        spent += left * (MINUTES[name] + opens)
        left -= chance[name]
    return spent


@pytest.mark.parametrize("behind", [{}, {"alternator": "tray", "battery": "tray"}, {"regulator": "tray"}])
def test_what_a_check_saves_is_the_difference_of_two_orders_counted_out(behind):
    """Made at its turn against left to the end, covers opened by whoever comes first, over jobs that come so far."""
    tray = places(("tray", None, 20)) if behind else NO_PLACES
    rows = ordered(
        causes(*charges()), facts(MINUTES, places={name: [place] for name, place in behind.items()}), tray, series="S2"
    )
    chance = {row["component"]: row["probability"] * row["sensitivity"] for row in rows}
    way = [row["component"] for row in rows]
    for row in rows:
        name = row["component"]
        later = [*(each for each in way if each != name), name]
        reach = 1 - sum(chance[each] for each in way[: row["step"] - 1])
        saved = (minutes_of(later, chance, behind) - minutes_of(way, chance, behind)) / reach
        assert row["minutes_saved"] == pytest.approx(saved)


def test_few_jobs_borrow_and_without_others_stay_few():
    rows = ordered(causes(*charges()), series="S1")
    assert {row["basis"] for row in rows} == {"family"}
    assert {row["component"] for row in rows} == {"battery", "alternator", "regulator"}
    # four own jobs and five borrowed ones at 3, 4, 1 of 8
    assert next(r for r in rows if r["component"] == "alternator")["probability"] == pytest.approx(5 * 4 / 8 / 10)
    alone = ordered(causes(job("hum", "relay", "S3")), facts({"relay": 3}))
    assert [(r["basis"], r["probability"], r["times_best_of_100"], r["tied"]) for r in alone] == [
        ("few", 0.5, None, False)
    ]


def test_a_cause_met_on_the_other_series_only_has_limits_from_0_that_hold_its_chance():
    others = [*["battery"] * 400, "regulator"]
    jobs = [job("no charge", "battery"), *(job("no charge", each, "S1") for each in others)]
    rows = {row["component"]: row for row in ordered(causes(*jobs), series="S2")}
    seldom = rows["regulator"]
    assert seldom["probability"] == pytest.approx(5 / 401 / 7)
    assert seldom["probability_lower"] == 0
    # as if half a job of its own had ended there, of 7 in all
    assert seldom["probability_upper"] == pytest.approx(stats.beta.ppf(0.90, 0.5, 7 - 5 / 401))
    assert 0 < rows["battery"]["probability_lower"] < rows["battery"]["probability"]


def test_a_series_without_a_job_of_the_complaint_has_no_rows():
    assert {row["series"] for row in ordered(causes(*charges()))} == {"S1", "S2"}
    assert ordered(causes()) == []
    assert ordered(causes(job("no charge", "battery", outcome="no fault found"))) == []


def test_a_cause_of_another_series_counts_only_where_this_one_has_the_component():
    fact = facts({"battery": 4, "alternator": 10}).vstack(facts({"regulator": 8}, ("S1",)))
    rows = ordered(causes(job("no charge", "battery"), job("no charge", "regulator", "S1")), fact, series="S2")
    assert [row["component"] for row in rows] == ["battery"]


def test_nothing_found_is_counted_and_moves_no_chance():
    before = ordered(causes(*charges()), series="S2")
    none = [job("no charge", "battery", outcome="no fault found")] * 3
    after = ordered(causes(*charges(), *none), series="S2")
    assert {row["none_found"] for row in after} == {3}
    assert [r["probability"] for r in after] == [r["probability"] for r in before]


def test_a_fault_found_after_a_check_in_vain_makes_the_check_less_sure():
    day = causes(job("x", "battery"))["came_on"][0]
    missed = job("no charge", "battery", car="a", on=day, outcome="no fault found")
    soon = job("no charge", "battery", car="a", on=day.replace(month=3))
    late = job("no charge", "battery", car="a", on=day.replace(year=2016))
    finds = [ordered(causes(missed, each))[0]["sensitivity"] for each in (soon, late)]
    assert finds == pytest.approx([(1 + 19) / (1 + 1 + 20), (1 + 19) / (1 + 20)])


def test_a_job_with_two_causes_is_shared_between_them():
    day = causes(job("x", "y"))["came_on"][0]
    both = [job("no charge", each, car="a", on=day, shared=2) for each in ("battery", "regulator")]
    rows = ordered(causes(*both))
    assert {row["own_jobs"] for row in rows} == {1}
    assert [row["probability"] for row in rows] == pytest.approx([0.25, 0.25])


def test_safety_critical_parts_come_first_by_name_outside_the_ranking():
    rows = ordered(causes(*charges()), critical=["regulator", "alternator"], series="S2")
    assert [(r["component"], r["safety_first"]) for r in rows] == [
        ("alternator", True),
        ("regulator", True),
        ("battery", False),
    ]
    assert [r["times_best_of_100"] for r in rows] == [None, None, None]
    assert rows[0]["minutes_saved"] is None
    assert rows[-1]["minutes_after"] == 22


def test_one_cover_is_opened_once_and_serves_the_next_check():
    tree = places(
        ("cabin", None, None), ("fascia", "cabin", 20.0), ("switch row", "fascia", None), ("roof", "cabin", 9.0)
    )
    where = {"battery": ["switch row"], "alternator": ["fascia"], "regulator": ["roof"]}
    rows = ordered(causes(*charges()), facts(MINUTES, places=where), tree, series="S2")
    told = [(r["component"], r["cover"], r["access_minutes"]) for r in rows]
    assert told == [("battery", "fascia", 20.0), ("alternator", "fascia", 0.0), ("regulator", "roof", 9.0)]
    assert rows[-1]["minutes_after"] == 20 + 4 + 10 + 9 + 8
    opened = ordered(causes(*charges()), facts(MINUTES, places=where), tree, ["battery"], series="S2")
    assert [(r["component"], r["access_minutes"]) for r in opened][:2] == [("battery", 20.0), ("alternator", 0.0)]


def test_a_place_is_the_usual_one_else_where_the_fault_was_found_most_often():
    jobs = [job("hum", "relay", place=each) for each in ("box", "box", "bay", "arch")]
    assert ordered(causes(*jobs), facts({"relay": 3}))[0]["location"] == "box"
    usual = facts({"relay": 3}, places={"relay": ["arch", "bay", "roof"]})
    assert ordered(causes(*jobs), usual)[0]["location"] == "arch"  # of two alike the first by name
    assert ordered(causes(*jobs, job("hum", "relay", place="bay")), usual)[0]["location"] == "bay"


def test_minutes_come_from_the_table_else_from_inspections_else_are_typical():
    fact = facts({"battery": 4, "alternator": None, "regulator": None}, inspected={"alternator": 30.0})
    rows = {r["component"]: (r["minutes"], r["minutes_from"]) for r in ordered(causes(*charges()), fact, series="S2")}
    assert rows == {"battery": (4, "stated"), "alternator": (30, "inspections"), "regulator": (17, "typical")}
    nothing = ordered(causes(*charges()), facts(dict.fromkeys(MINUTES)), series="S2")
    assert {(r["minutes"], r["minutes_from"], r["expected_minutes_so_far"]) for r in nothing} == {
        (None, "unknown", None)
    }
    assert [r["component"] for r in nothing] == ["battery", "alternator", "regulator"]  # by chance alone


def test_a_check_without_minutes_of_its_own_comes_first():
    rows = ordered(causes(*charges()), facts({**MINUTES, "regulator": 0}), series="S2")
    assert rows[0]["component"] == "regulator"
    assert rows[0]["expected_minutes_so_far"] == 0


def test_a_replay_needs_minutes_and_two_causes_to_choose_from():
    jobs = causes(*charges(), *charges())
    assert check_replay(jobs, facts(dict.fromkeys(MINUTES)), NO_PLACES, [], P).is_empty()
    assert check_replay(causes(*[job("hum", "relay")] * 5), facts({"relay": 3}), NO_PLACES, [], P).is_empty()
    assert check_replay(causes(), facts(MINUTES), NO_PLACES, [], P).is_empty()
    told = check_replay(jobs, facts(MINUTES), NO_PLACES, [], P)
    # the first job of each of the three causes has no earlier one to learn from
    assert told["never_met"].unique().to_list() == [3]
    assert told["more"][0] == 0


def test_ties_are_said_and_broken_by_name():
    jobs = [job("hum", each) for each in ("relay", "fan", "coil") for _ in range(6)]
    rows = ordered(causes(*jobs), facts({"relay": 5, "fan": 5, "coil": 5}))
    assert [r["component"] for r in rows] == ["coil", "fan", "relay"]
    assert [r["tied"] for r in rows] == [True, True, False]
    assert rows[0]["times_best_of_100"] == pytest.approx(33, abs=8)
    assert rows[1]["times_best_of_100"] == pytest.approx(50, abs=8)
    clear = ordered(causes(*jobs, *[job("hum", "fan")] * 60), facts({"relay": 5, "fan": 5, "coil": 5}))
    assert (clear[0]["component"], clear[0]["times_best_of_100"], clear[0]["tied"]) == ("fan", 100, False)


def test_another_complaint_moves_no_figure():
    alone = ordered(causes(*charges()), complaint="no charge")
    beside = ordered(causes(*charges(), *[job("dead", "starter", "S1")] * 7), complaint="no charge")
    assert alone == beside


def test_words_of_one_car_stay_out_of_the_snapshot():
    jobs = causes(
        job("no charge", "battery", car="a"),
        job("no charge", "battery", car="b"),
        job("Mr X says it hums", "battery", car="a"),
        job("Mr X says it hums", "battery", car="a"),
    )
    assert published(jobs, P)["complaint"].unique().to_list() == ["no charge"]
    told = own_words(jobs, P).row(0, named=True)
    assert (told["count"], told["count"] / told["out_of"]) == (2, 0.5)
    assert own_words(published(jobs, P), P).is_empty()
