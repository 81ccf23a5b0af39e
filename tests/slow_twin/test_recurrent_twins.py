"""Mean counts, trends and power laws against their plain twins."""

from math import exp

import polars as pl
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from analytics.estimators import fit_power_law, laplace_trend, mean_cumulative_function, military_handbook_trend
from tests.slow_twin import recurrent

ROW = st.tuples(st.integers(0, 4), st.integers(0, 6), st.integers(1, 7), st.integers(0, 3)).map(
    lambda r: (r[0], r[1], r[1] + r[2], r[3])
)
GROUPS = st.lists(st.lists(ROW, min_size=1, max_size=12), min_size=1, max_size=3)


@pytest.mark.parametrize("cluster", ["unit", None])
@given(groups=GROUPS)
def test_mean_cumulative_counts(cluster, groups):
    rows = [(f"g{index}", *row) for index, group in enumerate(groups) for row in group]
    frame = pl.DataFrame(rows, schema=["kind", "unit", "entry", "exit", "event"], orient="row")
    curve = mean_cumulative_function(frame, by="kind", cluster=cluster)
    for index, group in enumerate(groups):
        units = group if cluster else [(place, *row[1:]) for place, row in enumerate(group)]
        got = curve.filter(pl.col("kind") == f"g{index}").select("time", "at_risk", "events", "mcf", "std_error").rows()
        wanted = recurrent.mean_cumulative(units)
        assert len(got) == len(wanted)
        if wanted:
            assert_allclose(got, wanted, rtol=1e-9, atol=1e-7)


@st.composite
def histories(draw, least=1):
    """Systems watched in stretches, and events inside them; several may fall on one day."""
    windows, events = [], []
    for system in range(draw(st.integers(1, 3))):
        begin = 0
        for _ in range(draw(st.integers(1, 2))):
            start = begin + draw(st.integers(0, 20))
            end = start + draw(st.integers(2, 40))
            windows.append((system, start, end))
            events += [(system, draw(st.integers(start + 1, end))) for _ in range(draw(st.integers(0, 4)))]
            begin = end
    assume(len(events) >= least)
    return events, windows


def framed(events, windows):
    return (
        pl.DataFrame(events, schema=["system", "time"], orient="row"),
        pl.DataFrame(windows, schema=["system", "start", "end"], orient="row"),
    )


@given(histories())
def test_trend_statistics(history):
    assert_allclose(laplace_trend(*framed(*history))["statistic"][0], recurrent.laplace(*history), atol=1e-12)
    statistic = military_handbook_trend(*framed(*history))["statistic"][0]
    assert_allclose(statistic, recurrent.handbook(*history), rtol=1e-10, atol=1e-12)


@settings(max_examples=12)
@given(histories(least=3))
def test_power_laws(history):
    fit = fit_power_law(*framed(*history)).row(0, named=True)
    shape, log_intensity, shapes, intensities = recurrent.power_law(*history, drop=3.841458820694124 / 2)
    inside = fit["status"] == "ok" and 0.05 < fit["shape"] < 30 and fit["shape_lower"] > 0.01
    assume(inside)
    assert_allclose(fit["shape"], shape, rtol=1e-5)
    assert_allclose(fit["intensity"], exp(log_intensity), rtol=1e-4)
    starts, ends = {start for _, start, _ in history[1]}, {end for *_, end in history[1]}
    if starts != {0} or len(ends) > 1:  # else the shape has exact limits
        assert_allclose([fit["shape_lower"], fit["shape_upper"]], shapes, rtol=1e-5)
    if fit["intensity_lower"] is not None:
        assert_allclose([fit["intensity_lower"], fit["intensity_upper"]], [exp(x) for x in intensities], rtol=1e-3)
