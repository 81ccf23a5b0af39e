"""Trend tests and power laws: published cases, several systems, windows."""

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_allclose

from analytics.errors import SpellError
from analytics.estimators import fit_power_law, laplace_trend, military_handbook_trend
from tests.estimators.cases import shared_case, typed

CASES = typed("trend")
TESTS = [laplace_trend, military_handbook_trend, fit_power_law]


def one_system(times, end, start=0):
    """Events and the window of a single system."""
    return (
        pl.DataFrame({"system": [1] * len(times), "time": times}, schema_overrides={"system": pl.Int64}),
        pl.DataFrame({"system": [1], "start": [start], "end": [end]}),
    )


def systems(times, windows):
    """Events and windows of several systems from dicts."""
    rows = [(name, time) for name, many in times.items() for time in many]
    spans = [(name, *span) for name, many in windows.items() for span in many]
    return (
        pl.DataFrame(rows, schema={"system": pl.String, "time": pl.Float64}, orient="row"),
        pl.DataFrame(spans, schema={"system": pl.String, "start": pl.Float64, "end": pl.Float64}, orient="row"),
    )


def cited(name):
    if name == "submarine":
        # case trend_halfbeak_diesel: 71 repairs of a diesel engine in thousand hours, watched to 25.5181
        expected, table = shared_case("trend_halfbeak_diesel")
        return expected, one_system(table["kilohours"].to_list(), 25.5181), "time"
    case = CASES[name]
    return case, one_system(case["time"], case["end"]), "failure" if name == "generator" else "time"


@pytest.mark.parametrize("name", ["nist", "generator", "submarine"])
def test_agrees_with_the_cited_trend_tests(name):
    case, given, truncation = cited(name)
    laplace = laplace_trend(*given, truncation)
    assert_allclose(laplace["statistic"], case["laplace_z"], rtol=1e-6)
    assert_allclose(laplace["p_value"], case["laplace_p_two_sided"], rtol=1e-4)
    handbook = military_handbook_trend(*given, truncation)
    assert_allclose(handbook["statistic"], case["mil_chi2"], rtol=1e-6)
    assert handbook["df"][0] == case["mil_df"]
    assert_allclose(handbook["p_improving"], case["mil_p_upper_tail"], rtol=1e-4)
    assert_allclose(handbook["p_value"], 2 * min(case["mil_p_upper_tail"], handbook["p_worsening"][0]), rtol=1e-4)


@pytest.mark.parametrize("name", ["nist", "generator", "submarine"])
def test_agrees_with_the_cited_power_law(name):
    case, given, truncation = cited(name)
    fit = fit_power_law(*given, truncation).row(0, named=True)
    assert_allclose(fit["shape"], case["beta_mle"], rtol=1e-6)
    assert_allclose(fit["intensity"], case["lambda_mle"], rtol=1e-5)
    assert_allclose(fit["shape_unbiased"], case["beta_unbiased"], rtol=1e-6)
    assert_allclose((fit["shape_lower"], fit["shape_upper"]), case["beta_ci95_exact"], rtol=1e-5)
    assert_allclose(fit["cramer_von_mises"], case["cramer_von_mises"], rtol=1e-6)
    end = given[1]["end"][0]
    now = fit["intensity"] * fit["shape"] * end ** (fit["shape"] - 1)
    assert_allclose(now, case["intensity_at_T_mle"], rtol=1e-5)


def test_agrees_with_the_figures_the_handbook_prints():
    # NIST/SEMATECH e-Handbook, 8.2.2.3: modified shape 0.483506 and intensity n / T^shape = 0.2913003; chi-square 37.23
    case, given, _ = cited("nist")
    shape = fit_power_law(*given)["shape_unbiased"][0]
    assert round(shape, 6) == case["printed_beta_modified"]
    assert round(10 / 1500**shape, 7) == case["printed_lambda_modified"]
    assert round(military_handbook_trend(*given)["statistic"][0], 2) == case["printed_mil_chi2"]


def test_agrees_with_counts_per_interval():
    case = CASES["grouped"]
    low = [0, *case["interval_end"][:-1]]
    times = np.repeat(case["interval_end"], case["count"])
    events, windows = one_system(times.tolist(), 100)
    fit = fit_power_law(events.with_columns(time_lower=pl.Series(np.repeat(low, case["count"]))), windows).row(
        0, named=True
    )
    assert_allclose(fit["shape"], case["beta"], atol=3e-6, err_msg=case["source"])
    assert_allclose(fit["intensity"], case["lam"], atol=3e-6, err_msg=case["source"])
    now = fit["intensity"] * fit["shape"] * 100 ** (fit["shape"] - 1)
    assert_allclose(now, case["intensity_at_100"], rtol=1e-6)


@pytest.mark.parametrize("unit", [1, 1000])
def test_agrees_with_ten_vehicles_watched_to_different_mileages(unit):
    # case mcf_army_vehicles_exact: score equation and direct maximisation; intensity per thousand miles
    expected, table = shared_case("mcf_army_vehicles_exact")
    events = table.filter(pl.col("event") == "Fail").select(system="vehicle", time=pl.col("miles") / unit)
    spans = table.filter(pl.col("event") != "Fail").group_by(system="vehicle")
    windows = spans.agg(start=pl.col("miles").min() / unit, end=pl.col("miles").max() / unit)
    assert_allclose((windows["end"] - windows["start"]).sum() * unit, expected["exposure_miles"])
    fit = fit_power_law(events, windows).row(0, named=True)
    assert fit["systems"] == expected["n_vehicles"]
    assert_allclose(fit["shape"], expected["power_law_beta_pooled_mle"], rtol=1e-6)
    per_thousand = fit["intensity"] * (1000 / unit) ** fit["shape"]
    assert_allclose(per_thousand, expected["power_law_lambda_per_1000mi"], rtol=1e-5)
    assert fit["shape_lower"] < fit["shape"] < fit["shape_upper"]
    assert fit["intensity_lower"] < fit["intensity"] < fit["intensity_upper"]


def test_laplace_holds_each_system_against_its_own_windows():
    # by hand: centres 5 and 105, widths 10: offsets 3, 4 and -1; sqrt(3 x 100 / 12) = 5
    given = systems({"a": [8, 9], "b": [104]}, {"a": [(0, 10)], "b": [(100, 110)]})
    assert_allclose(laplace_trend(*given)["statistic"], 6 / 5)


def test_a_system_may_be_watched_in_several_stretches():
    apart = systems({"a": [8, 104]}, {"a": [(0, 10), (100, 110)]})
    two = systems({"a": [8], "b": [104]}, {"a": [(0, 10)], "b": [(100, 110)]})
    assert laplace_trend(*apart)["statistic"][0] == laplace_trend(*two)["statistic"][0]
    assert laplace_trend(*apart)["systems"][0] == 1


def test_time_in_the_military_handbook_test_starts_with_the_window():
    moved = military_handbook_trend(*one_system([150, 180], 200, 100))
    assert_allclose(moved["statistic"], military_handbook_trend(*one_system([50, 80], 100))["statistic"])


def test_a_power_law_with_late_start_uses_age_not_time_watched():
    late = systems({"a": [150, 180, 195]}, {"a": [(100, 200)]})
    early = systems({"a": [50, 80, 95]}, {"a": [(0, 100)]})
    assert fit_power_law(*late)["shape"][0] > fit_power_law(*early)["shape"][0]


@pytest.mark.parametrize("test", TESTS)
def test_no_event_tells_nothing(test):
    events, windows = one_system([], 100)
    result = test(events.with_columns(pl.col("time").cast(pl.Float64)), windows).row(0, named=True)
    assert result["status"] == "too few"
    assert {result.get(name) for name in ("statistic", "p_value", "df", "shape", "intensity")} == {None}


def test_one_event_tells_no_power_law():
    assert fit_power_law(*one_system([50], 100)).select("shape", "status").row(0) == (None, "too few")


def test_events_all_at_the_end_have_no_finite_shape():
    fit = fit_power_law(*one_system([100, 100, 100], 100)).row(0, named=True)
    assert (fit["status"], fit["shape"], fit["shape_upper"]) == ("no finite estimate", None, None)


@pytest.mark.parametrize("unit", [1e-3, 1e9])
def test_another_unit_of_time_changes_the_intensity_only(unit):
    times = [5.0, 40.0, 43.0, 175.0, 389.0]
    one = fit_power_law(*one_system(times, 500.0)).row(0, named=True)
    other = fit_power_law(*one_system([time * unit for time in times], 500.0 * unit)).row(0, named=True)
    for name in ("shape", "shape_lower", "shape_upper", "cramer_von_mises"):
        assert_allclose(other[name], one[name], rtol=1e-7)
    assert_allclose(other["intensity"] * unit ** one["shape"], one["intensity"], rtol=1e-6)


@pytest.mark.parametrize("test", TESTS)
@pytest.mark.parametrize(
    ("times", "windows", "says"),
    [
        ({"a": [11]}, {"a": [(0, 10)]}, "an event lies in no window of its system in 1 of 1 rows: row 1, time 11"),
        ({"a": [0]}, {"a": [(0, 10)]}, "an event lies in no window"),
        ({"b": [5]}, {"a": [(0, 10)]}, "an event lies in no window"),
        ({"a": [5]}, {"a": [(0, 4), (6, 10)]}, "an event lies in no window"),
        ({"a": [5]}, {"a": [(0, 6), (4, 10)]}, "a window overlaps the one before it"),
        ({"a": [5]}, {"a": [(5, 5)]}, "end is not after start in 1 of 1 rows: row 1"),
    ],
)
def test_refuses_windows_and_events_that_do_not_fit(test, times, windows, says):
    with pytest.raises(SpellError, match=says):
        test(*systems(times, windows))


@pytest.mark.parametrize("test", TESTS)
def test_refuses_a_failure_truncated_window_that_does_not_end_with_an_event(test):
    with pytest.raises(SpellError, match="a window does not end with an event in 1 of 1 rows: row 1, end 100"):
        test(*one_system([50, 80], 100), "failure")


@pytest.mark.parametrize("test", TESTS)
def test_refuses_an_unknown_truncation_and_a_frame_without_systems(test):
    with pytest.raises(ValueError, match="time, failure"):
        test(*one_system([50], 100), "count")
    events, windows = one_system([50], 100)
    with pytest.raises(SpellError, match="no column system in events"):
        test(events.drop("system"), windows)
