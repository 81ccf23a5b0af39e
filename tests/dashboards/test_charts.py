"""Charts name roles, never colours; they can be drawn; titles tell units."""

import json
import re
from dataclasses import replace
from datetime import date

import polars as pl
import pytest

from dashboards.charts.compare import two_designs
from dashboards.charts.held import held_or_not
from dashboards.charts.lanes import MARKS, car_lanes
from dashboards.charts.life import life_curve
from dashboards.charts.outlook import piled, shelf_outlook, zones
from dashboards.charts.plan import car_plan
from dashboards.charts.ranked import ranked_places
from dashboards.charts.recurrence import slots_over_time
from dashboards.charts.sheet import PICK, ROLES
from tests.dashboards import frames as f

YEARS = {"ask": 6.0, "unit": "years"}
SPAN = {"first": date(2014, 2, 1), "last": date(2026, 11, 24)}
CHARTS = {
    "life in ink": life_curve(f.LIFE, state="ink", firm_to=8.0, **YEARS),
    "life in pencil": life_curve(f.LIFE, state="pencil", firm_to=8.0, **YEARS),
    "life, one-sided": life_curve(f.BARE, state="one-sided", firm_to=8.0, **YEARS),
    "life, nothing firm": life_curve(f.LIFE, state="ink", firm_to=0.0, **YEARS),
    "life by steps": life_curve(replace(f.LIFE, stepped=True), state="ink", firm_to=8.0, ask=None, unit="years"),
    "two designs": two_designs(f.OLD, f.NEW, **YEARS),
    "two equal designs": two_designs(f.NEW, f.NEW, **YEARS),
    "slots": slots_over_time(f.SLOTS, focus="screen", unit="years"),
    "one slot": slots_over_time(f.SLOTS.filter(pl.col("level") == "foot"), focus="foot", unit="years"),
    "plan above": car_plan(f.PLACES.filter(pl.col("deck") == "above"), deck="above", most=21.0),
    "plan below": car_plan(f.PLACES.filter(pl.col("deck") == "below"), deck="below", most=21.0),
    "ranks": ranked_places(f.PLACES),
    "ranks, all sure": ranked_places(f.PLACES.filter("sure")),
    "held or not": held_or_not(f.HELD, days=90, end=30),
    "held, all thin": held_or_not(f.HELD.filter("thin"), days=90, end=30),
    "held, no fence": held_or_not(f.HELD.filter(pl.col("chance").is_null()), days=90, end=30),
    "shelf": shelf_outlook(f.NEED, held=6.0, order=6),
    "shelf, no order": shelf_outlook(f.NEED, held=0.0, order=0),
    "shelf, not counted": shelf_outlook(f.NEED, held=None, order=0),
    "lanes": car_lanes(f.PARTS, f.EVENTS, f.VISITS, **SPAN),
    "lanes, known starts": car_lanes(f.PARTS.drop_nulls("start"), f.EVENTS.head(1), f.VISITS, **SPAN),
}
TAPPED = {"life in ink", "slots", "plan above", "plan below", "ranks", "held or not", "lanes"}


def text_of(name):
    return json.dumps(CHARTS[name].to_dict())


@pytest.mark.parametrize("name", CHARTS)
def test_no_colour_value_in_a_chart(name):
    assert not re.search(r"#[0-9a-fA-F]{3,8}\b", text_of(name))
    assert not re.search(r'"(color|fill|stroke)": "', text_of(name))


@pytest.mark.parametrize("name", CHARTS)
def test_every_colour_is_a_role(name):
    used = set(re.findall(r'"datum": "(\w+)"', text_of(name)))
    assert used
    assert used <= set(ROLES)


@pytest.mark.parametrize("name", CHARTS)
def test_no_hole_in_the_data_reaches_a_chart(name):
    assert not re.search(r"\b(NaN|Infinity)\b", text_of(name))


@pytest.mark.parametrize("name", CHARTS)
def test_the_grammar_can_draw_it(name):
    vl_convert = pytest.importorskip("vl_convert", reason="comes with wearledger[report]")
    assert vl_convert.vegalite_to_svg(CHARTS[name].to_dict()).count("<path") > 1


@pytest.mark.parametrize("name", sorted(TAPPED))
def test_marks_that_can_be_tapped_carry_the_one_selection(name):
    names = [param["name"] for param in CHARTS[name].to_dict()["params"]]
    assert names == [PICK]


def test_a_life_curve_counts_to_twenty_and_names_its_unit():
    spec = CHARTS["life in ink"].to_dict()
    domains = [
        layer["encoding"]["y"]["scale"]["domain"]
        for layer in spec["layer"]
        if "scale" in layer.get("encoding", {}).get("y", {})
    ]
    assert domains
    assert all(domain == [-7.0, 20] for domain in domains)
    assert "years since fitted" in text_of("life in ink")
    assert "of 20 still work" in text_of("life in ink")


def test_steps_in_the_place_of_a_law_are_drawn_once_and_without_a_dot():
    text = text_of("life by steps")
    assert "monotone" not in text
    assert "of 20 still work" not in text


def test_only_a_firm_curve_is_drawn_in_petrol():
    assert '"datum": "petrol"' in text_of("life in ink")
    for name in ("life in pencil", "life, nothing firm"):
        assert '"datum": "petrol"' not in text_of(name)


def test_the_difference_shown_is_that_of_the_numbers_shown():
    # at 6 years 0.6 and 0.6 ** 0.3 = 0.858 still work: 12 and 17 of 20
    assert "5 more of 20" in text_of("two designs")
    assert "more of 20" not in text_of("two equal designs")


def test_one_shape_per_kind_of_record():
    assert len({shape for shape, _, _ in MARKS.values()}) == len(MARKS) == 6


@pytest.mark.parametrize(
    ("held", "order", "counts"), [(6.0, 6, (9, 9, 2)), (0.0, 0, (0, 0, 20)), (None, 0, (20, 0, 0))]
)
def test_every_outlook_is_covered_by_shelf_order_or_nobody(held, order, counts):
    zone = zones(f.NEED, held=held, order=order)["zone"]
    assert tuple((zone == name).sum() for name in ("shelf", "order", "short")) == counts


def test_outlooks_close_together_are_piled_within_their_zone():
    needs = pl.DataFrame({"need": [3, 4, 5, 6, 40]})
    marks = piled(zones(needs, held=4.0, order=2), 3.0)
    assert marks.select("zone", "at", "pile").rows() == [
        ("shelf", 3.5, 1),
        ("shelf", 3.5, 2),
        ("order", 5.5, 1),
        ("order", 5.5, 2),
        ("short", 40.0, 1),
    ]


def test_equal_outlooks_stand_on_each_other_at_their_number():
    marks = piled(zones(f.NEED, held=6.0, order=6), 1.0)
    assert (marks["at"] == marks["need"]).all()
    assert marks.group_by("need").agg(pl.col("pile").max() == pl.len())["pile"].all()


def words_of(name, said):
    """Offsets of the words on a chart, by what their text says."""
    layers = [layer for layer in CHARTS[name].to_dict()["layer"] if "text" in json.dumps(layer.get("mark"))]
    data = CHARTS[name].to_dict()["datasets"]
    return [layer["mark"] for layer in layers if said in json.dumps(data.get(layer["data"].get("name"), ""))]


def test_words_at_a_falling_line_stand_above_it_to_the_right_and_below_it_to_the_left():
    told = (
        ("life in ink", "of 20 still work"),
        ("life, one-sided", "at least so many"),
        ("two designs", '"name": "new"'),
    )
    for name, said in told:
        marks = words_of(name, said)
        assert marks
        for mark in marks:
            assert (mark["align"] == "left") == (mark["dy"] < 0)


@pytest.mark.parametrize("tallest", [3, 17])
def test_words_at_the_fences_stand_apart_and_above_the_piles(tallest):
    spec = shelf_outlook(pl.DataFrame({"need": [0] * tallest + [2]}), held=0.0, order=1).to_dict()
    rows = [row for data in spec["datasets"].values() for row in data]
    heights = sorted({row["high"] for row in rows if "high" in row})
    tops = [layer["encoding"].get("y", {}).get("scale", {}).get("domain", [0, 0])[1] for layer in spec["layer"]]
    pixel = max(tops) / spec["height"]
    assert heights[1] - heights[0] >= 20 * pixel
    assert heights[0] - 18 * pixel >= max(row["pile"] for row in rows if "pile" in row) + 0.4


@pytest.mark.parametrize(("end", "told"), [(24.999, "25.0"), (30.001, "30.0")])
def test_the_last_label_of_an_axis_of_years_stands_at_the_end_of_the_curve(end, told):
    """25 years are 9131 days, 24.999 years of 365.25 days: a tick at 25 would lie outside."""
    law = f.LAW.with_columns(pl.col("time") * (end / 10.0))
    life = life_curve(replace(f.LIFE, law=law), state="ink", firm_to=8.0, **YEARS)
    both = two_designs(replace(f.OLD, law=law), f.NEW, **YEARS)
    for chart in (life, both):
        assert f'"domain": [0, {told}]' in json.dumps(chart.to_dict())
