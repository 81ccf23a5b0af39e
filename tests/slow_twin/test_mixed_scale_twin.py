"""Age or distance against a plain twin, on units with late entry, cars used unlike, and silent faults."""

import math

import polars as pl
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from analytics.estimators.scale_choice import THETAS, _highest
from analytics.estimators.two_scales import two_scales
from tests.slow_twin.mixed_scale import highest

RATE = st.floats(0.5, 40.0)


@st.composite
def unit(draw):
    """A unit on a path of two straight pieces, with its event and the slope of the last piece."""
    entry, days = draw(st.integers(0, 900)), draw(st.integers(100, 4000))
    before, after = draw(RATE), draw(RATE)
    event, silent = draw(st.booleans()), draw(st.booleans())
    at, to = entry * before, entry * before + days * after
    look = draw(st.floats(0.1, 0.9))
    lower = (entry + look * days, at + look * days * after) if event and silent else (None, None)
    return {
        "age": (float(entry), float(entry + days), lower[0]),
        "distance": (at, to, lower[1]),
        "event": int(event),
        "slope": after,
    }


def framed(groups):
    rows = [
        (number, *unit["age"], *unit["distance"], unit["event"], unit["slope"])
        for number, units in enumerate(groups)
        for unit in units
    ]
    names = [f"{scale}_{end}" for scale in ("age", "distance") for end in ("entry", "exit", "exit_lower")]
    schema = {"group": pl.Int64, **dict.fromkeys(names, pl.Float64), "event": pl.Int64, "slope": pl.Float64}
    return pl.DataFrame(rows, schema=schema, orient="row")


@settings(max_examples=6)
@given(st.lists(st.lists(unit(), min_size=12, max_size=16), min_size=1, max_size=2), st.sampled_from([0, 3, 5, 10]))
def test_the_highest_likelihood_on_a_mixture_agrees(groups, tenth):
    rows = two_scales(framed(groups), "group", returned=(), where="test")
    theta = float(THETAS[tenth])
    found = _highest(rows.mixed(theta)) + rows.log_slope(theta)
    for number, units in enumerate(groups):
        if sum(u["event"] for u in units) < 3:
            continue
        wanted = highest(units, theta)
        assert math.isfinite(wanted)
        assert_allclose(found[number], wanted, atol=0.02)
