"""What fails next, in words, on its page and on the front page."""

import re
from datetime import date, timedelta

import polars as pl
import pytest

from dashboards.answers import follow_on
from dashboards.charts.follow_on import arrow, which_came_first
from dashboards.charts.sheet import ROLES
from tests.dashboards.snapshot_rows import Fleet, frame, group, model_row, write
from tests.dashboards.visits import drawings, opened, said

UNTIL = date(2026, 11, 24)
USUAL = {
    **{"first": "vacuum pump diaphragm", "then": "one-way valve", "window_days": 120, "status": "ok"},
    **{
        "n_first_then": 11,
        "n_then_first": 2,
        "expected_share": 0.5,
        "p_value": 0.0112,
        "adjusted_p": 0.0112,
        "tests": 1,
    },
    **{"first_watched": 88, "followed": 14, "share": 14 / 88, "share_lower": 0.0985, "share_upper": 0.238},
    **{"median_days": 64.5, "median_status": "ok", "declared": False, "stated": False, "told_by": 0, "set_apart": 0},
}
ORDERLESS = {"adjusted_p": 0.9, "p_value": 0.4, "n_first_then": 6, "n_then_first": 5, "tests": 940}


def pair(first="vacuum pump diaphragm", then="one-way valve", **more):
    return {**USUAL, "first": first, "then": then, **more}


def table(*rows):
    return frame("follow_on", list(rows))


def told(*rows, after="all"):
    found = table(*rows)
    return follow_on.answer(follow_on.ready(found, after), found, UNTIL, 5, asked=after != "all")


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({}, "11 times it failed next, twice the other way round: more than shared ageing."),
        ({"n_then_first": 0}, "11 times it failed next, never the other way round: more than shared ageing."),
        (ORDERLESS, "six times it failed next, five times the other way round: no order to see."),
        (
            {"status": "too few", "adjusted_p": None, "n_first_then": 1, "n_then_first": 1},
            "once it failed next, once the",
        ),
        (
            {"status": "renewed together", "adjusted_p": None},
            "often renewed with the other, so that the order tells nothing",
        ),
    ],
)
def test_a_pair_is_said_by_how_often_each_order_came(more, sentence):
    row = follow_on.ready(table(pair(**more))).row(0, named=True)
    text = follow_on.sentence(row).replace("eleven times", "11 times")
    assert text.startswith("Vacuum pump diaphragm, then one-way valve: ")
    assert sentence in text


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({}, "fails within 120 days about 16 times (could be 9 to 24): 14 of 88; on half of the cars within 64 days."),
        ({"median_days": None}, "(could be 9 to 24): 14 of 88."),
        ({"share": 0.0, "share_lower": 0.0, "followed": 0}, "within 120 days never (could be 0 to 24): 0 of 88"),
        ({"share": 0.002, "share_lower": 0.0}, "within 120 days less than once (could be 0 to 24)"),
        ({"first_watched": 0, "share": None, "share_lower": None}, "has been watched for 120 days yet."),
    ],
)
def test_how_often_and_how_soon_it_follows(more, sentence):
    assert sentence in follow_on.share(pair(**more))


def test_a_declared_pair_says_so_and_what_was_left_out_of_its_test():
    assert "Three records say so as the reason" in follow_on.declared(pair(declared=True, told_by=3, set_apart=1))
    assert "the first of them is not counted in the test" in follow_on.declared(
        pair(declared=True, told_by=3, set_apart=1)
    )
    assert follow_on.declared(pair(declared=True, told_by=1)).startswith("One record says so")
    stated = pair(declared=True, stated=True)
    assert follow_on.declared(stated).startswith("Your components table states it; the pair is tested among such")
    both = follow_on.declared({**stated, "told_by": 2})
    assert both.startswith("Two records say so as the reason and your components table states it; the pair")
    assert follow_on.declared(pair()) == ""


def test_what_stands_comes_first_and_of_two_orders_the_one_that_stands():
    rows = follow_on.ready(
        table(
            pair("hose", "battery", **ORDERLESS),
            pair(),
            pair("one-way valve", "vacuum pump diaphragm", **{**ORDERLESS, "n_first_then": 2, "n_then_first": 11}),
            pair("clutch", "cap", **{**ORDERLESS, "declared": True}),
        )
    )
    assert rows["pair"].to_list() == ["vacuum pump diaphragm → one-way valve", "clutch → cap", "hose → battery"]
    assert rows["verdict"].to_list() == ["more", "no order", "no order"]
    asked = follow_on.ready(table(pair(), pair("hose", "battery", **ORDERLESS)), "hose")
    assert asked["pair"].to_list() == ["hose → battery"]


def test_declared_pairs_without_an_order_are_named():
    stated = {**ORDERLESS, "declared": True, "stated": True}
    rows = follow_on.ready(table(pair(declared=True), pair("clutch", "cap", **stated), pair("hose", "fan", **stated)))
    assert follow_on.tested_alone(rows) == (
        "Two pairs are declared, tested among declared pairs alone, and without an order to see: "
        "clutch → cap and hose → fan."
    )
    assert follow_on.tested_alone(rows.head(1)) == ""


def test_without_an_order_the_page_says_so_and_how_many_cars_it_takes():
    said_so = told(pair(**ORDERLESS), pair("hose", "battery", **ORDERLESS))
    assert said_so.state == "ink"
    assert said_so.sentence.startswith("No order to see: of two pairs of components none fails next more often")
    # 0.05 / 940 is reached by 15 cars in one order: 2 ** -15 = 0.000031
    assert said_so.notes[0].endswith("on about 15 cars and never in the other; one that is declared, from about 5.")
    # 0.05 / 4 by seven: 2 ** -7 = 0.0078
    declared = {"declared": True, "stated": True, "tests": 4}
    beside = told(pair(**ORDERLESS), pair("hose", "battery", **{**ORDERLESS, **declared}))
    assert beside.notes[0].endswith("one that is declared, from about 7.")
    assert "“consequence”" in said_so.notes[1]
    asked = told(pair("hose", "battery", **ORDERLESS), after="hose").sentence
    assert "of one component none fails after the hose more often" in asked


def test_with_too_few_cars_it_is_left_blank_and_says_how_many_there_are():
    thin = {"status": "too few", "p_value": None, "adjusted_p": None, "n_first_then": 2, "n_then_first": 1, "tests": 0}
    blank = told(pair(**thin))
    assert blank.state == "blank"
    assert "failed one after the other on five cars" in blank.sentence
    assert "most cars with such a pair are three" in blank.notes[0]


def fleet(folder, *rows, critical=()):
    made = Fleet()
    for k in range(12):
        made.car(f"LW2-{8000 + k:05d}", "S2")
    for k in range(11):
        car, on = f"LW2-{8000 + k:05d}", date(2020, 1, 10) + timedelta(days=40 * k)
        first = made.job(car, on, "vacuum pump diaphragm", "engine")
        then = made.job(car, on + timedelta(days=50), "one-way valve", "bay left")
        made.rows["follow_on_pair"].append(
            {"first": "vacuum pump diaphragm", "then": "one-way valve", "vehicle_id": car, "first_record": first}
            | {"then_record": then, "first_on": on, "then_on": on + timedelta(days=50), "days": 48}
        )
    for name in ("vacuum pump diaphragm", "one-way valve"):
        more = {"safety_critical": name in critical, "safety_told_by": "stated", "system": "Vacuum"}
        made.rows["life_model"].append(model_row(group(name), 12, 40, 3000.0, **more))
    made.rows["follow_on"] = [dict(row) for row in rows]
    return write(folder, made.rows, "2026-11-24-next0001")


def test_the_page_tells_the_pair_its_records_and_a_caution(tmp_path, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(fleet(tmp_path, pair(), pair("hose", "cap", **ORDERLESS))))
    page = opened("held")
    assert not page.exception
    text = said(page)
    assert "What fails next?" in text
    assert "it failed next, twice the other way round: more than shared ageing." in text
    assert "The records tell the order, not the reason" in text
    assert "11 of 11" in text
    assert "brake servo may share this vacuum" in text
    assert "no count here says how long it may be left" not in text
    assert drawings(page) == 2


def test_beside_a_safety_critical_part_the_page_says_not_to_wait_and_tells_no_time(tmp_path, monkeypatch):
    row = pair(then_safety_critical=True)
    monkeypatch.setenv("WEARLEDGER_DATA", str(fleet(tmp_path, row, critical=["one-way valve"])))
    text = said(opened("held"))
    assert "no count here says how long it may be left" in text
    assert "on half of the cars within" not in text
    assert "14 of 88" in text


def test_the_front_page_tells_a_pair_that_stands_and_leads_to_it(tmp_path, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(fleet(tmp_path, pair())))
    text = said(opened("in-short"))
    assert "Vacuum pump diaphragm fails, then one-way valve: on eleven cars in this order, on two in the other." in text
    assert "14 of 88 failures of the first followed so within 120 days" in text


def test_a_pair_without_an_order_is_not_on_the_front_page(tmp_path, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(fleet(tmp_path, pair(**ORDERLESS))))
    assert "in this order" not in said(opened("in-short"))


def drawn(*rows):
    return which_came_first(follow_on.ready(table(*rows)), days=120, verdicts=follow_on.VERDICTS)


CHARTS = {
    "pips": drawn(pair(), pair("hose", "battery", **ORDERLESS)),
    "bars": drawn(pair(n_first_then=180), pair("hose", "battery", **ORDERLESS)),
    "one order only": drawn(pair(n_then_first=0)),
    "arrow": arrow({**pair(), "verdict": "more"}, **follow_on.on_arrow(pair())),
    "arrow without days": arrow({**pair(), "verdict": "no order"}, **follow_on.on_arrow(pair(median_days=None))),
}


@pytest.mark.parametrize("name", CHARTS)
def test_a_drawing_names_roles_and_can_be_drawn(name):
    text = CHARTS[name].to_json()
    assert not re.search(r"#[0-9a-fA-F]{3,8}\b|\b(NaN|Infinity)\b", text)
    assert set(re.findall(r'"datum": "(\w+)"', text)) <= set(ROLES)
    vl_convert = pytest.importorskip("vl_convert", reason="comes with wearledger[report]")
    assert vl_convert.vegalite_to_svg(CHARTS[name].to_dict()).count("<path") > 1


def marks(chart, shape):
    """Return on which side, and how often, a chart has marks of a shape."""
    layers = [layer for layer in chart.to_dict()["layer"] if layer["mark"].get("shape") == shape]
    data = chart.to_dict()["datasets"]
    rows = pl.concat([pl.DataFrame(data[layer["data"]["name"]]) for layer in layers], how="diagonal")
    return (rows.filter(pl.col("cars") > 0).height, rows.filter(pl.col("cars") < 0).height)


def test_one_mark_a_car_to_the_right_in_this_order_and_to_the_left_in_the_other():
    chart = drawn(pair(), pair("hose", "battery", **ORDERLESS))
    assert marks(chart, "diamond") == (11, 0)
    assert marks(chart, "circle") == (6, 2 + 5)


def test_what_is_written_on_the_arrow():
    assert follow_on.on_arrow(pair(n_then_first=1)) == {
        "ahead": "11 cars",
        "soon": "half within\n64 days",
        "behind": "1 car",
    }
