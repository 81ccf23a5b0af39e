"""Which spellings are one name, and which never are."""

import polars as pl
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from analytics.records.naming import OPPOSITES, SIDES, folded, position_key, read_code, sided

KEYS = (folded, sided, position_key)
CORNERS = ("front left", "front right", "rear left", "rear right")
WORDS = st.sampled_from(["fuel", "hose", "pump", "door", "arm", *SIDES])
FIGURES = st.sampled_from(["0", "1", "2", "10", "12", "1.5", "15", "-5", "5"])
SIGNS = st.sampled_from([" ", "  ", "-", "_", ". ", " - ", "\N{NO-BREAK SPACE}", "\N{EN DASH}"])


def keys(key, *names):
    return pl.DataFrame({"n": names}, schema={"n": pl.String}).select(key(pl.col("n"))).to_series().to_list()


def one(key, *names):
    return len({*keys(key, *names)}) == 1


@given(st.text())
@example("A\N{SOFT HYPHEN}\N{COMBINING ACUTE ACCENT}")
@example("1-2-3--4 -5")
@example("1...2.-.5_.")
@example("l h  hand side")
@example("center side left hand")
@example("left hand hand")
@pytest.mark.parametrize("key", KEYS)
def test_a_key_of_a_key_is_itself(key, text):
    (once,) = keys(key, text)
    assert keys(key, once) == [once]


def test_five_ways_to_write_a_component_are_one():
    assert one(folded, "fuel hose", "Fuel Hose", "fuel-hose", "FUEL  HOSE.", " fuel_hose ", "Fuel\N{EN DASH}hose,")


def test_six_ways_to_write_a_corner_are_one():
    written = ["front left", "left front", "Left-Hand Front", "L/H front", "front, LH".replace(",", ""), "FRONT L.H."]
    assert one(position_key, *written)


@given(st.lists(WORDS, min_size=1, max_size=4), st.lists(SIGNS, min_size=4, max_size=4), st.booleans())
def test_case_and_signs_between_words_do_not_count(words, signs, loud):
    other = "".join(word + sign for word, sign in zip(words, signs, strict=False))
    assert one(folded, " ".join(words), other.upper() if loud else other)


@pytest.mark.parametrize("key", KEYS)
@given(
    words=st.lists(WORDS, min_size=1, max_size=3),
    figures=st.lists(FIGURES, min_size=2, max_size=2, unique=True),
    place=st.integers(0, 3),
)
def test_names_with_other_figures_are_never_one(key, words, figures, place):
    first, second = (" ".join([*words[:place], figure, *words[place:]]) for figure in figures)
    assert not one(key, first, second)


@pytest.mark.parametrize("key", KEYS)
@given(st.lists(WORDS, max_size=3), st.permutations(SIDES), st.integers(0, 3))
def test_names_with_another_side_are_never_one(key, words, sides, place):
    first, second = (" ".join([*words[:place], side, *words[place:]]) for side in sides[:2])
    assert not one(key, first, second)


def test_order_counts_where_a_word_is_no_side():
    assert one(position_key, "rear upper left", "left rear upper")
    assert not one(position_key, "engine front", "front engine")
    assert not one(sided, "front left", "left front")


def test_market_words_and_the_drivers_side_are_left_alone():
    assert keys(position_key, "Nearside front", "driver's side") == ["nearside front", "driver's side"]


def test_a_name_of_signs_is_its_own():
    assert keys(folded, "-", ".", " ? ") == ["-", ".", "?"]


def test_two_letters_are_the_only_corner_they_begin():
    read = {code: read_code(code, CORNERS) for code in ("fl", "lf", "f/l", "f l", "rr", "lr", "fr")}
    assert read == {
        **dict.fromkeys(("fl", "lf", "f/l", "f l"), "front left"),
        "rr": "rear right",
        "lr": "rear left",
        "fr": "front right",
    }


def test_two_letters_that_begin_two_positions_are_not_read():
    assert read_code("fl", [*CORNERS, "front lower"]) is None
    assert read_code("fl", ["left", "right"]) is None


@pytest.mark.parametrize("pair", OPPOSITES, ids=" ".join)
def test_a_single_letter_is_read_between_two_opposites_only(pair):
    for word in pair:
        assert read_code(word[0], pair) == word
        assert read_code(word[0], [word]) is None
        assert read_code(word[0], [*pair, "centre"]) is None
        assert read_code(word[0], CORNERS) is None


def test_a_letter_is_not_read_where_no_position_is_known():
    assert read_code("l", []) is None
    assert read_code("l", ["left", "lower"]) is None
