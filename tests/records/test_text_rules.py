"""Component, side and action read out of free text, with the traps measured on real work orders.

Texts and traps: the README beside the excavator records (word edges, glued forms, model names, prefixes).
"""

import polars as pl
import pytest

from analytics.records import parse_mapping
from analytics.records.text_rules import TextRules
from tests.records.feeds import MAPPINGS


def shipped(column: str) -> TextRules:
    found = parse_mapping(MAPPINGS / "uwa_excavators.toml")
    return next(block.text[column] for block in found.blocks if column in block.text)


def read(rules: TextRules, text: str | None) -> str | None:
    frame = pl.DataFrame({rules.column: [text]}, schema={rules.column: pl.String})
    return frame.select(rules.expression().alias("found"))["found"][0]


@pytest.mark.parametrize(
    "text",
    [
        "LH TRACK",
        "L/H TRACK",
        "L/ H TRACK",
        "L.H TRACK",
        "L.H. TRACK",
        "LHS TRACK",
        "L/H/S TRACK",
        "LHR TRACK",
        "LHF TRACK",
        "LHI LIGHT",
        "L/HAND TRACK",
        "LEFT TRACK",
        "OIL FROMLH TANK",
        "#2L/H PUMP",
        "LOOSE BOLTDSLHS",
        "RH120LHS STEP",
        "RH120C-LH FAN MOTOR",
        "ROLLER-LH",
        "(LH) STEP",
        "@L/H STEP",
        "lh engine overheating",
    ],
)
def test_every_spelling_of_left_is_left(text):
    assert read(shipped("position"), text) == "left"


@pytest.mark.parametrize(
    "text",
    [
        "RH ENGINE",
        "R/H ENGINE",
        "R.H.S. ENGINE",
        "RHS ENGINE",
        "RIGHT ENGINE",
        "R/HAND ENGINE",
        "RHI LIGHT",
        "RHF LIGHT",
        "RHR LIGHT",
        "R/H/R BRAKE",
        "-R/H STEP",
        "BELT(RH",
        "RH120C-RH SLEW MOTOR",
        "rh engine",
    ],
)
def test_every_spelling_of_right_is_right(text):
    assert read(shipped("position"), text) == "right"


@pytest.mark.parametrize(
    "text",
    [
        "RF- AIR CON NOT COLD",
        "RH120 LIP",
        "RH120C-MAIN PUMP",
        "RH120E ENGINE",
        "ENGINE OVERHEATING",
        "TANK OVERFLOW",
        "OVERHAUL PUMP",
        "UPPER H-LINK",
        "LADDER H/RAILS",
        "WATER/SEDIMENT",
        "ROTOR/SWIVEL",
        "THERMOSTAT-OVERHEATING",
        "ORHT LINE",
        "BRIGHT LIGHT",
        "",
    ],
)
def test_no_side_is_read_where_none_is_said(text):
    assert read(shipped("position"), text) is None


@pytest.mark.parametrize(
    "text", ["LH & RH TRACKS", "RH & LH JOYSTICK", "LH&RH CYL", "left and right lamp", "L/H/S R/H BOX"]
)
def test_a_text_with_both_sides_gives_no_position(text):
    assert read(shipped("position"), text) is None


@pytest.mark.parametrize(
    ("text", "component"),
    [
        ("REPLACE ENGINE", "engine"),
        ("RH ENG. OIL LEAK", "engine"),
        ("ENGINE TURBO LEAK", "turbo"),
        ("ENGAGE SWITCH", None),
        ("L/H BUCKET CYL LEAKING.", "bucket cyl"),
        ("LH Boom Cyl replacement", "boom cyl"),
        ("STICK CYLINDER", "stick cyl"),
        ("FINAL DRIVE OIL", "final drive"),
        ("TRACK PIN", "track"),
        ("A/C NOT COLD", "air con"),
        ("FIT BUCKET TOOTH", "GET"),
        ("GREASE LINE", "grease"),
        ("HYD OIL LEAK", "hydraulic"),
        ("LIGHT OUT", None),
    ],
)
def test_components_are_read_by_words_in_the_order_of_the_rules(text, component):
    assert read(shipped("component"), text) == component


@pytest.mark.parametrize(
    ("text", "action"),
    [
        ("REPLACE LIP", "replaced"),
        ("CHANGEOUT ~ LEFT SLEW MOTOR", "replaced"),
        ("c/o boom cylinder", "replaced"),
        ("FIT BUCKET TOOTH", "replaced"),
        ("REFIT BUCKET TOOTH", "refitted"),
        ("RESEAL PUMP", "resealed"),
        ("REPAIR LOOSE CYLINDER", "repaired"),
        ("OIL LEAK", None),
    ],
)
def test_an_action_is_read_only_where_the_text_names_one(text, action):
    assert read(shipped("action"), text) == action


def test_the_first_rule_that_is_found_wins_and_an_empty_word_leaves_it_empty():
    rules = TextRules("t", (), (("both", ""), ("left", "left"), ("both left", "never")), "other")
    assert [read(rules, text) for text in ("both left", "LEFT", "front", None)] == [None, "left", "other", None]


def test_removed_words_are_gone_before_any_rule_runs():
    rules = TextRules("t", ("model x", "left over"), (("x", "x"), ("left", "left")))
    assert [read(rules, text) for text in ("Model X", "left over parts", "model x left")] == [None, None, "left"]
