"""Every published value about these methods is compared, with its tolerance, or it is said why not.

Values and tolerances are read from ../shared/references; the cases that may be published are typed into tests/reference
as well, so that they are compared where that folder is absent.
"""

import json
import math
import re

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analytics.estimators import (
    adjust_p_values,
    cumulative_incidence,
    fit_power_law,
    fit_weibull,
    goodness_of_fit,
    kaplan_meier,
    laplace_trend,
    life_quantile,
    log_rank,
    military_handbook_trend,
    proportion,
    rate,
    rate_ratio,
    replacement_age,
    shrunken_ratio,
)
from analytics.estimators.log_rank import compare
from analytics.estimators.sequencing import check_sequence, expected_minutes
from analytics.estimators.spells_in import spells_in
from tests.estimators.cases import SHARED, spells, typed

FOLDER = SHARED / "references"
OTHERS = {
    *("croston_productC", "eoq_harris_1913", "newsvendor_7_5", "newsvendor_mac", "poisson_binomial_5"),
    *("poisson_mil338_panel", "mile_km", "odometer_mechanical_limit", "vin_check_digit_cfr"),
}
"""Cases of other packages: stock, distances."""

ELSEWHERE = {
    "km_": "test_kaplan_meier: curves, errors, all three kinds of limits, printed figures",
    "na_": "test_nelson_aalen",
    "trunc_": "test_kaplan_meier and test_nelson_aalen: late entry, conditional on lasting to 68 and 80 years",
    "weibull_truncated_channing": "test_weibull: all enter late",
    "weibull_given_shape_nist": "test_weibull: given shape, one- and two-sided",
    "rmst_": "test_restricted_mean",
    "poisson_exact_limits_garwood": "test_rates",
    "mtbf_factors_nist": "test_rates",
    "multiple_testing_bh1995": "test_multiple_testing; what Bonferroni rejects is not offered",
    "mcf_": "test_mean_cumulative, and test_trend for the power law of ten vehicles",
}
"""Cases whose every value is compared in the file named."""

NOT_OURS = {
    "wald": "limits from the curvature: likelihood ratios are ours",
    "lognormal": "another law",
    "se_mu|se_sigma|se_log_sigma": "errors of logs from the curvature: likelihood ratios are ours",
    "var_independent|var_lifelines|bound_lower|bound_upper": "another convention than the robust error",
    "rate_diff": "differences of rates are not offered",
    "midp": "mid-p: the exact interval is ours",
    "fleming_harrington|wilcoxon|tarone_ware|peto": "the weights offered are compared in test_log_rank",
    "by$|hochberg": "adjustments that are not offered",
    "reversals": "not offered",
    "critical": "the level is told; by its formula these are 10, 5, 2.5 and 1 %",
    "mtbf_lower80|mtbf_upper80": "limits of the current time between failures are not offered",
    "policyII|minimal_repair": "replacement at failure by a minimal repair is not offered",
}


def case(name):
    if not FOLDER.is_dir():
        pytest.skip("the cases lie in ../shared/references, which is absent")
    return json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))


def table(name):
    case(name)
    return pl.read_csv(FOLDER / f"{name}.csv", infer_schema_length=None)


def lives(name):
    """The lives of a Weibull case as spells."""
    if name == "weibull_interval_cracks":
        upper = pl.col("upper").cast(pl.Float64)
        rows = table(name).with_columns(exit=pl.when(upper.is_finite()).then(upper).otherwise("lower"))
        rows = rows.with_columns(event=upper.is_finite().cast(pl.Int64), entry=pl.lit(0.0), exit_lower="lower")
    elif name == "weibull_interval_bus_engines":
        rows = table(name).rename({table(name).columns[1]: "exit", table(name).columns[0]: "exit_lower"})
        rows = rows.with_columns(event=pl.lit(1), entry=pl.lit(0.0))
    elif name == "weibull_nist_8_4_1_3":
        rows = table(name).rename({"time": "exit"}).with_columns(entry=pl.lit(0.0), count=pl.lit(1))
    else:
        rows = table(name).select(entry=pl.lit(0.0), exit="megacycles", event=pl.lit(1), count=pl.lit(1))
    return rows.select(pl.exclude("count").repeat_by("count").explode())


def weibull(name):
    rows = lives(name)
    fit = fit_weibull(rows).row(0, named=True)
    shape, life, top = fit["shape"], fit["life"], fit["log_likelihood"]
    mean = life * math.gamma(1 + 1 / shape)
    told = {"eta": life, "beta": shape, "loglik": top, "mu": math.log(life), "sigma": 1 / shape, "mean": mean}
    told |= {"AIC": 4 - 2 * top, "log_sigma": -math.log(shape)}
    told["sd"] = math.sqrt(life**2 * math.gamma(1 + 2 / shape) - mean**2)
    told["B10"] = life_quantile(rows, 0.1)["life"][0]
    if "printed_quantiles_1_10_50pct" in case(name)["expected"]:
        told["quantiles_1_10_50pct"] = [life_quantile(rows, p)["life"][0] for p in (0.01, 0.1, 0.5)]
    told["beta_ci95_profile"] = [fit["shape_lower"], fit["shape_upper"]]
    told["eta_ci95_profile"] = [fit["life_lower"], fit["life_upper"]]
    return told | {f"printed_{key}": value for key, value in told.items()} | {"known_beta": shape, "known_eta": life}


def trend(name):
    if name == "crow_mil189_grouped":
        return grouped()
    data = table(name)
    end = {"trend_nist_case_study_1": 1500, "crow_failure_truncated_generator": 4596, "trend_halfbeak_diesel": 25.5181}
    cut = "failure" if name.startswith("crow") else "time"
    events = data.select(system=pl.lit(1), time=data.columns[0])
    windows = pl.DataFrame({"system": [1], "start": [0.0], "end": [float(end[name])]})
    fit = fit_power_law(events, windows, cut).row(0, named=True)
    laplace, handbook = laplace_trend(events, windows, cut), military_handbook_trend(events, windows, cut)
    shape, rate_, n = fit["shape"], fit["intensity"], events.height
    now = rate_ * shape * end[name] ** (shape - 1)
    modified = fit["shape_unbiased"]
    per_failure = end[name] / (modified * n)
    return {
        "laplace_z": laplace["statistic"][0],
        "laplace_p_two_sided": laplace["p_value"][0],
        "mil_chi2": handbook["statistic"][0],
        "mil_chi2_text": handbook["statistic"][0],
        "mil_df": handbook["df"][0],
        "mil_p_upper_tail": handbook["p_improving"][0],
        "beta_mle": shape,
        "lambda_mle": rate_,
        "beta_unbiased": modified,
        "printed_beta_modified": modified,
        "printed_growth_slope": 1 - modified,
        "printed_lambda_modified": n / end[name] ** modified,
        "printed_mtbf": per_failure,
        "intensity_at_T_mle": now,
        "mtbf_at_T_mle": 1 / now,
        "cramer_von_mises": fit["cramer_von_mises"],
        "beta_ci95_exact": [fit["shape_lower"], fit["shape_upper"]],
    }


def grouped():
    data = table("crow_mil189_grouped")
    ends, counts = data["end"].to_numpy(), data["count"].to_numpy()
    low = np.concatenate(([0], ends[:-1]))
    events = pl.DataFrame({"system": 1, "time": np.repeat(ends, counts), "time_lower": np.repeat(low, counts)})
    fit = fit_power_law(events, pl.DataFrame({"system": [1], "start": [0], "end": [100]})).row(0, named=True)
    shape, rate_ = fit["shape"], fit["intensity"]
    now, last = rate_ * shape * 100 ** (shape - 1), rate_ * (100**shape - 80**shape) / 20
    told = {"beta": shape, "lam": rate_, "intensity_at_100": now, "mtbf_at_100": 1 / now}
    return told | {"avg_intensity_last_interval": last, "avg_mtbf_last_interval": 1 / last}


def causes(name):
    if name == "cr_device_g":
        return device()
    at, why = table(name)["time"], table(name)["cause"]
    frame = spells(exit=at.to_list(), event=(why > 0).cast(pl.Int64).to_list(), why=why.to_list())
    both, whole = cumulative_incidence(frame, "why"), kaplan_meier(frame)
    days = [1, 2, 3, 5, 6]

    def on(curve, column, before):
        known = dict(zip(curve["time"], curve[column], strict=True))
        steps = [known[max(t for t in known if t <= day)] if min(known) <= day else before for day in days]
        return [0.0 if step is None else step for step in steps]  # nobody left: R says 0, we say nothing

    told = {"p_state0": on(whole, "survival", 1.0), "se_state0": on(whole, "std_error", 0.0)}
    for cause in (1, 2):
        curve = both.filter(pl.col("cause") == cause)
        told |= {f"p_event{cause}": on(curve, "incidence", 0.0), f"se_event{cause}": on(curve, "std_error", 0.0)}
    return told


def device():
    data = table("cr_device_g").select(entry=pl.lit(0.0), exit="kilocycles", mode="mode")
    data = data.with_columns(event=(pl.col("mode") != "Suspended").cast(pl.Int64))
    both = cumulative_incidence(data, "mode")
    told = {"time": both["time"].unique().sort().to_list()}
    fits = []
    for cause, short, long in (("Surge", "surge", "surge"), ("Wearout", "wear", "wearout")):
        curve = both.filter(pl.col("cause") == cause)
        told |= {f"cif_{long}": curve["incidence"].to_list(), f"se_{long}": curve["std_error"].to_list()}
        only = data.with_columns(event=(pl.col("mode") == cause).cast(pl.Int64))
        fits.append(fit_weibull(only).select("life", "shape").row(0))
        told[f"weibull_{short}"] = fits[-1]
    return told | {
        "ME_weibull_beta_surge_wear": [b for _, b in fits],
        "ME_weibull_eta_surge_wear": [a for a, _ in fits],
    }


def comparison(name):
    cases = typed("comparisons")
    key = "six_mp_weights" if name == "logrank_6mp_weights" else "tiny"
    rows = cases[key]
    frame = spells(exit=rows["exit"], event=rows["event"], kind=rows["group"])
    result = log_rank(frame, "kind").row(0, named=True)
    told = {"logrank": result["statistic"], "logrank_full": result["statistic"], "logrank_p": result["p_value"]}
    sums = compare(spells_in(frame, "kind"), "none")
    told |= {"observed": sums.observed, "expected": sums.expected, "variance": sums.covariance[0, 0]}
    return told | {"chisq": result["statistic"], "p": result["p_value"]}


def ratio(_):
    row = rate_ratio(41, 28010, 15, 19017).row(0, named=True)
    told = {"rr": row["ratio"], "rr_full": row["ratio"], "exact_p": row["p_value"]}
    return told | {"exact_ci": [row["lower"], row["upper"]]}


def pumps(name):
    data = case(name)["data"]
    failures, hours = np.array(data["failures"]), np.array(data["khours"])
    row = shrunken_ratio(failures, hours)
    a, b = row["prior_shape"][0], row["prior_rate"][0]
    top = stats.nbinom.logpmf(failures, a, b / (b + hours)).sum()
    told = {"raw_rates": rate(failures, hours)["rate"].to_list(), "alpha": a, "beta": b, "loglik": top}
    return told | {"posterior_means": (a + failures) / (b + hours)}


def bearings(name):
    row = goodness_of_fit(table(name).select(entry=pl.lit(0.0), exit="megacycles", event=pl.lit(1))).row(0, named=True)
    told = {"A2": row["statistic"], "A2_star": row["adjusted_statistic"], "OSL_mil17": row["p_value"]}
    return told | {"A2_lawless": row["statistic"]}


def replacement(_):
    row = replacement_age(2.5, 1000, 5).row(0, named=True)
    told = {"T": row["age"], "cost": row["cost_rate"]}
    return told | {f"{key}_printed": value for key, value in told.items()}


def defective(_):
    row = proportion(4, 20, 0.9).row(0, named=True)
    return {"phat": row["proportion"], "lower": row["lower"], "upper": row["upper"]}


def adjusted(name):
    p = case(name)["data"]["p"]
    return {method: adjust_p_values(p, method)["adjusted_p"].to_list() for method in ("bh", "holm")}


def sequence(name):
    """Minutes of both orders, repairs included: they come on top whatever the order."""
    data = case(name)["data"]
    chance, minutes = np.array([data["p"], 1 - data["p"]]), np.array(data["C"], dtype=float)
    repairs, none = float(chance @ data["R"]), (np.full(2, -1), np.zeros(2))
    spent = [float(expected_minutes(np.array(order), chance, minutes, *none)) for order in ([0, 1], [1, 0])]
    told = {f"E_check{first}_first": minutes + repairs for first, minutes in enumerate(spent, start=1)}
    found = check_sequence(chance, minutes)
    assert found.expected_minutes == spent[found.order[0]]
    return told | {"best_first": found.order[0] + 1}


COMPARED = {
    **dict.fromkeys(("weibull_nist_8_4_1_3", "weibull_ball_bearings", "weibull_interval_cracks"), weibull),
    "weibull_interval_bus_engines": weibull,
    **dict.fromkeys(("trend_nist_case_study_1", "crow_failure_truncated_generator", "crow_mil189_grouped"), trend),
    "trend_halfbeak_diesel": trend,
    **dict.fromkeys(("cr_tiny_by_hand", "cr_device_g"), causes),
    **dict.fromkeys(("logrank_6mp_weights", "logrank_tiny_r"), comparison),
    **{"rate_ratio_rothman": ratio, "eb_pumps": pumps, "ad_weibull_ball_bearings": bearings},
    **{"age_replacement_docs": replacement, "clopper_pearson_nist": defective, "multiple_testing_unsorted4": adjusted},
    "sequence_two_causes_ross": sequence,
}


def names():
    if not FOLDER.is_dir():
        return []
    return sorted({path.stem for path in FOLDER.glob("*.json")} - OTHERS)


@pytest.mark.parametrize("name", names())
def test_every_published_value_is_compared_or_said_why_not(name):
    if name not in COMPARED:
        assert any(name.startswith(beginning) for beginning in ELSEWHERE), "no test compares this case"
        return
    told, expected = COMPARED[name](name), case(name)["expected"]
    for key, wanted in expected.items():
        if key not in told:
            assert any(re.search(pattern, key) for pattern in NOT_OURS), key
            continue
        at_most = {"rtol" if wanted["tolerance_kind"] == "relative" else "atol": wanted["tolerance"]}
        values = [np.nan if value is None else value for value in np.ravel(wanted["value"]).tolist()]
        # values near 0 (an error of a cause that has not struck) are equal to rounding
        assert_allclose(np.ravel(told[key]), values, **({"rtol": 0, "atol": 1e-9} | at_most), err_msg=f"{name}: {key}")
