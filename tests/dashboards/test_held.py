"""Did the repair hold: the sentence, the rows, the records behind them, and what is said of little."""

import polars as pl
import pytest

from dashboards import data
from dashboards.answers import held
from dashboards.answers.said import several
from dashboards.answers.short import standing
from tests.dashboards.held_rows import held_row
from tests.dashboards.snapshot_rows import AS_OF, frame
from tests.dashboards.visits import drawings, opened, said

FENCE = (1.0, 0, 2)


@pytest.fixture
def rich(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))


def ready(*rows, split="action", component="all"):
    return held.ready(frame("repeat_repair", list(rows)), split, component)


def told(*rows, **more):
    return held.answer(ready(*rows), 90, AS_OF, **{"of_one": False, **more})


@pytest.mark.usefixtures("rich")
def test_the_repair_that_comes_back_is_told_with_what_chance_gives():
    test = opened("held")
    text = said(test)
    assert "Of 100 overhauled window motors about 14 come back within 90 days; chance alone gives 0 to 5." in text
    assert "**6 came back**  ·  43 repairs watched for 90 days  ·  43 cars" in text
    assert "Repairs not counted: one whose window is still open, three of cars that left before." in text
    # six returns: 2.61 to 11.84, less 0.9 by chance
    assert "About 5.1 more came back than chance gives (could be 1 to 11)." in text
    assert text.count("A repair came back if the same failed within 90 days and 1500 km; where no km") == 1
    assert drawings(test) == 1


@pytest.mark.usefixtures("rich")
def test_both_visits_of_a_return_stand_side_by_side():
    listed = next(e.value for e in opened("held").dataframe if "second_job" in e.value.columns)
    row = listed.iloc[-1]
    assert (row["vehicle_id"], row["days"], row["then_done"], row["second_part"]) == (
        *("LW2-08000", 18, "exchanged", "SL-8102"),
    )
    assert row["first_job"] != row["second_job"]
    assert listed["returned_on"].is_monotonic_decreasing
    # a slot that no line names is left empty
    assert listed["position"].isna().tolist() == [True, False, False, False, False, False]


@pytest.mark.usefixtures("rich")
def test_a_component_is_told_alone_and_by_the_origin_of_its_part():
    test = opened("held", component="bonnet cable")
    assert "Of 100 repaired bonnet cables about 8 come back within 90 days; chance alone gives 0 to 11." in said(test)
    assert "No repair came back, so no record is listed." in said(test)
    test = opened("held", component="window motor", split="also by origin of the part")
    assert "Of 100 overhauled window motors (origin reproduction) about 30 come back" in said(test)


@pytest.mark.usefixtures("rich")
def test_rule_39_a_part_critical_for_safety_has_counts_and_no_fence():
    test = opened("held", component="fuel hose")
    text = said(test)
    assert "Of 100 replaced fuel hoses about 12 come back within 90 days: more than chance gives." in text
    assert "Parts critical for safety have no fence: it would tell how long they last." in text
    assert "Grey fence" not in text
    assert "more came back than" not in text
    assert "chance alone gives" not in text
    assert len(test.warning) == 2


@pytest.mark.usefixtures("rich")
def test_a_thin_row_says_that_it_is_too_little_and_keeps_its_fence():
    text = said(opened("held", component="height control valve"))
    assert "Too little to say: one of nine repairs came back." in text
    assert "**left blank**" in text


@pytest.mark.usefixtures("rich")
def test_the_front_page_names_the_surest_kind_of_each_component_that_comes_back():
    lines = [line for line in standing(data.current()) if line.page == "held"]
    assert lines[0].sentence.startswith("Of 100 overhauled window motors about 14 come back within 90 days")
    assert (lines[0].why, lines[0].choices) == ("6 of 43 repairs came back, 43 cars", {"component": "window motor"})
    assert [line.choices["component"] for line in lines] == ["window motor", "fuel hose"][: len(lines)]


@pytest.mark.parametrize("kind", ["sales", "nothing"])
def test_without_a_watched_repair_the_page_says_what_to_load(kind, folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders[kind]))
    test = opened("held")
    assert "No repair has been watched for 90 days yet." in said(test)
    assert "Load repairs with what was done" in said(test)
    assert drawings(test) == 0


def test_open_windows_alone_are_counted_as_nothing_but_told():
    row = held_row("horn", "all", 0, 0, None, repairs_open=2, repairs_undated=1)
    sentence, lines = held.none_watched(frame("repeat_repair", [row]), 90)
    assert sentence == "No repair has been watched for 90 days yet."
    assert lines[0] == (
        "Repairs not counted: two whose window is still open, one of which only year or month is known."
    )


def test_where_nothing_comes_back_more_than_by_chance_that_is_said_as_a_result():
    found = told(held_row("pump", "replaced", 100, 1, FENCE), held_row("hose", "replaced", 60, 0, FENCE))
    assert found.state == "ink"
    assert found.sentence == (
        "No kind of repair comes back more often than chance could give: one of 160 repairs came back within 90 days."
    )


@pytest.mark.parametrize(
    ("returns", "repairs", "fence", "says"),
    [
        (0, 40, (0.1, 0, 0), "none comes back within 90 days; chance alone gives 0."),
        (1, 400, (1.5, 0, 4), "fewer than 1 comes back within 90 days; chance alone gives 0 to 1."),
        (1, 100, (1.5, 1, 4), "about 1 comes back within 90 days; chance alone gives 1 to 4."),
        (7, 20, (0.1, 0, 1), "about 35 come back within 90 days; chance alone gives 0 to 5."),
    ],
)
def test_counts_of_100_are_never_nothing_unless_it_is_so_and_the_fence_is_rounded_outwards(
    returns, repairs, fence, says
):
    found = told(held_row("pump", "replaced", repairs, returns, fence), of_one=True)
    assert found.sentence == f"Of 100 replaced pumps {says}"


def test_a_row_that_stands_out_tells_how_many_more_than_chance():
    """Limits of a Poisson count of 20, at 90 %: 13.25 and 29.06 (Garwood 1936; here by chi-squared quantiles)."""
    sure = held_row("pump", "replaced", 200, 20, (3.0, 0, 6), verdict="more than chance", adjusted_p=0.001)
    assert told(sure).notes == ("About 17 more came back than chance gives (could be 10 to 27).",)
    assert told(sure | {"status": "safety-critical"}).notes == ()
    assert told(sure | {"excess": None, "excess_lower": None, "excess_upper": None}).notes == ()
    assert told(sure | {"verdict": "no more than chance"}, of_one=True).notes == ()


def test_where_no_life_is_known_the_share_stands_without_a_fence():
    row = held_row("lamp", "replaced", 30, 1, None, verdict="cannot be told", status="no life known")
    assert told(row, of_one=True).sentence == (
        "Of 100 replaced lamps about 3 come back within 90 days; what chance gives is not known."
    )
    assert any("no fence to hold" in caption for caption in held.captions(ready(row)))


def test_what_is_sure_comes_first_and_what_is_thin_last():
    rows = ready(
        held_row("c", "replaced", 9, 1, FENCE, verdict="cannot be told", status="too few"),
        held_row("b", "replaced", 90, 3, FENCE),
        held_row("a", "replaced", 90, 1, FENCE),
        held_row("d", "replaced", 90, 9, FENCE, verdict="more than chance", adjusted_p=0.01),
        held_row("e", "all", 90, 9, FENCE, verdict="more than chance", adjusted_p=0.001),
    )
    assert rows["component"].to_list() == ["d", "b", "a", "c"]
    assert rows["thin"].to_list() == [False, False, False, True]


def test_the_axis_ends_behind_the_last_mark_that_is_drawn():
    wide = held_row("c", "replaced", 9, 1, (1.0, 0, 2), verdict="cannot be told", status="too few", upper=0.9)
    assert held.reach(ready(held_row("a", "replaced", 90, 1, FENCE, upper=0.08))) == 10
    assert held.reach(ready(wide)) == 30  # its line is not drawn, its fence is
    assert held.reach(ready(held_row("a", "replaced", 5, 5, FENCE))) == 100


def test_a_kind_of_repair_is_named_with_its_origin():
    base = held_row("pump", "overhauled", 20, 2, FENCE)
    rows = ready(base | {"part_origin": "no part"}, base | {"part_origin": "new"}, split="part_origin")
    assert set(rows["repair"]) == {"pump, overhauled, no part", "pump, overhauled, origin new"}
    sentences = {held.sentence(row, 90) for row in rows.iter_rows(named=True)}
    assert {s.split(" about")[0] for s in sentences} == {
        "Of 100 overhauled pumps without a new part",
        "Of 100 overhauled pumps (origin new)",
    }


@pytest.mark.parametrize(
    ("one", "many"), [("hose", "hoses"), ("relay", "relays"), ("gearbox", "gearboxes"), ("brake pads", "brake pads")]
)
def test_names_of_several(one, many):
    assert several(one) == many


def test_of_an_older_table_without_rows_nothing_is_ready():
    assert ready().is_empty()
    assert ready(held_row("horn", "adjusted", 0, 0, None)).is_empty()
    assert isinstance(ready(), pl.DataFrame)
