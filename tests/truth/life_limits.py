"""How often the limits of lives hold, in fleets simulated from a known law, cell by cell.

The long run: ``python -m tests.truth.life_limits --fleets 1000 --seed 1`` (``--part NAME`` for one part of it). It
prints coverage, and says where it lies below its band. Cells: four shapes by five expected numbers of failures by
three targets (life10, life50, share lasting 5 years), where something has failed; 63.2 % of the units fail within 10
years, cars join 8 to 35 years after they were built and stay 3 to 9. Where seven ages in ten are unknown there are half
as many fleets.
Bands: extremes over two earlier runs of all cells, widened by about two Monte Carlo errors, which are 0.007 at 0.95 and
0.009 at 0.90 with 1,000 fleets.
"""

from __future__ import annotations

import argparse
import math
import sys
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from analytics.estimators import fit_family, fit_weibull_residual, life_models, life_posterior
from analytics.parameters import Parameters
from tests.truth.fleets import fleets, watched_units

SHAPES = (0.8, 1.2, 1.8, 3.5)
EXPECTED = (1, 2, 4, 8, 15)
BUCKETS = {"1-2": (1, 2), "3-4": (3, 4), "5-9": (5, 9), "10-20": (10, 20)}
KNOWN, SOME_UNKNOWN = 1.0, 0.3
LIFE = 10.0
YEARS_WATCHED = 6.0
FLEETS_AT_ONCE = 250
CLOSED = replace(Parameters(), upper_open_ratio=1e30)
"""No limit is left out, so that both can be checked."""

JOINED_OLD = {"joined": (8000.0, 16000.0), "stay": (3650.0, 3650.0), "known_share": 0.0}
"""Cars that join 8,000 to 16,000 days after they were built and stay ten years; no unit in them is of known age."""

OLD_CARS = ((3.0, 3000.0, 25), (2.0, 9000.0, 60), (1.3, 3600.0, 25))
"""Shape, life in days and number of positions of three fleets of such cars."""


@dataclass(frozen=True, slots=True)
class Band:
    """Least share in which both limits, the lower and the upper one should hold."""

    both: float
    lower: float
    upper: float


CELL = {KNOWN: Band(0.86, 0.91, 0.90), SOME_UNKNOWN: Band(0.82, 0.87, 0.90)}
"""By share of units of known age: a cell, and what the lower limit should keep where nothing has failed yet too."""

BUCKET = Band(0.89, 0.95, 0.92)
"""The same with all shapes together, by number of failures."""


def simulated(shape, expected, known_share, seed, count):
    """Return the units of so many fleets with about so many failures each."""
    cars = max(1, round(expected * LIFE * math.gamma(1 + 1 / shape) / YEARS_WATCHED))
    return fleets(np.random.default_rng(seed), count, cars, shape, LIFE, known_share=known_share)


def limits_of(units, shape):
    """Return limits of life10, life50 and of the survival at 5 years, a row per fleet, and their true values."""
    models, survival = life_models(units, "fleet", ages=pl.DataFrame({"time": [5]}), parameters=CLOSED)
    at_five = survival.select("fleet", s5_lower="lower", s5_upper="upper")
    truth = {
        "life10": LIFE * (-math.log(0.9)) ** (1 / shape),
        "life50": LIFE * math.log(2) ** (1 / shape),
        "s5": math.exp(-((5 / LIFE) ** shape)),
    }
    return models.join(at_five, on="fleet", validate="1:1"), truth


def held(frame, name, true):
    """Return for each row whether both limits hold, the lower and the upper one."""
    lower, upper = (frame[name + "_lower"] <= true), (frame[name + "_upper"] >= true)
    return pl.DataFrame({"both": lower & upper, "lower": lower, "upper": upper})


def coverage(frame, name, true):
    return tuple(held(frame, name, true).mean().row(0))


def likelihood_ratio_coverage(units, shape):
    """Return in which share the likelihood-ratio limits of shape and life hold both: the poorer method beside ours."""
    fitted = fit_weibull_residual(units, "fleet", confidence=0.9).filter(pl.col("status") == "ok")
    fitted = fitted.with_columns(pl.col("shape_lower", "life_lower").fill_null(0.0))
    fitted = fitted.with_columns(pl.col("shape_upper", "life_upper").fill_null(1e30))
    return coverage(fitted, "shape", shape)[0], coverage(fitted, "life", LIFE)[0]


def median_errors(shape, life, positions, count, rng):
    """Return the error of log median life in `count` fleets of old cars, and that with units taken for new."""
    units = fleets(rng, count, positions, shape, life, **JOINED_OLD)
    true = math.log(life * math.log(2) ** (1 / shape))
    fitted = fit_weibull_residual(units, "fleet").filter(pl.col("status") == "ok")
    log_median = np.log(fitted["life"]) + math.log(math.log(2)) / fitted["shape"]
    as_new = life_posterior(units.with_columns(age_known=True), "fleet")["life50"].log().to_numpy()
    return log_median.to_numpy() - true, as_new - true


def of_families(rng, families, members, cars, *, centre=1.8, known_share=KNOWN, odd=0):
    """Return units of families whose members' laws vary, and the true log median life of each member.

    Log median life varies by 0.35 around log 15 years, log shape by 0.2 around `centre`. The last `odd` members of
    each family last three times as long, or a third, with 1.6 times the shape, or 1 / 1.6.
    """
    count = families * members
    log_life50 = math.log(15) + 0.35 * rng.standard_normal(count)
    log_shape = math.log(centre) + 0.2 * rng.standard_normal(count)
    strange = np.arange(count) % members >= members - odd
    log_life50 += strange * math.log(3) * rng.choice([-1, 1], count)
    shape = np.exp(log_shape + strange * math.log(1.6) * rng.choice([-1, 1], count))
    life = np.repeat(np.exp(log_life50) / math.log(2) ** (1 / shape), cars)
    units = watched_units(rng, np.repeat(shape, cars), life, count * cars, known_share=known_share)
    units = units.with_columns(member=pl.col("position") // cars, family=pl.col("position") // (cars * members))
    return units, log_life50


def few_failed(units, log_life50):
    """Return members with one to four failures: own and pooled median life, pooled limits, and the true log."""
    own = life_posterior(units, ["family", "member"], parameters=CLOSED)
    pooled = fit_family(units, "member", by="family", parameters=CLOSED)
    both = own.join(pooled, on=["family", "member"], suffix="_pooled", validate="1:1")
    few = both.filter(pl.col("failures").is_between(1, 4), pl.col("life50_pooled").is_not_null())
    return few.with_columns(truth=pl.Series(log_life50[few["member"].to_numpy()]))


def log_error(few, name):
    """Return the root mean square error of a log median life."""
    return float(np.sqrt(((few[name].log() - few["truth"]) ** 2).mean()))


def say(*told):
    sys.stdout.write(" ".join(map(str, told)) + "\n")
    sys.stdout.flush()


def told(found, band):
    parts = [f"{name} {share:.3f}" for name, share in zip(("both", "lower", "upper"), found, strict=True)]
    short = any(share < least for share, least in zip(found, (band.both, band.lower, band.upper), strict=True))
    return ", ".join(parts) + (" BELOW ITS BAND" if short else "")


def cells(count, seed):
    """Print every cell, the whole procedure of a cell with fleets in which nothing has failed, and the buckets."""
    for known_share, band in CELL.items():
        number = count if known_share == KNOWN else count // 2
        say(f"ages known of {known_share:.0%}, {number} fleets a cell; least {band}")
        rows, whole = [], []
        for cell, (shape, expected) in enumerate((s, e) for s in SHAPES for e in EXPECTED):
            draw = np.random.SeedSequence([seed, cell, round(10 * known_share)]).spawn(
                math.ceil(number / FLEETS_AT_ONCE)
            )
            made = [limits_of(simulated(shape, expected, known_share, s, FLEETS_AT_ONCE), shape) for s in draw]
            models, truth = pl.concat([frame for frame, _ in made]), made[0][1]
            failed = models.filter(pl.col("failures") > 0)
            for name, true in truth.items():
                say(f"shape {shape}, expected {expected}, {name}:", told(coverage(failed, name, true), band))
                rows.append(held(failed, name, true).with_columns(failed["failures"], target=pl.lit(name)))
                whole.append((models[name + "_lower"] <= true).mean())
        say(f"with fleets without a failure: lower {min(whole):.3f} to {max(whole):.3f}, at least {band.lower}")
        spread = pl.concat(rows)
        for bucket, (least, most) in BUCKETS.items():
            inside = spread.filter(pl.col("failures").is_between(least, most))
            for (name,), part in inside.group_by("target", maintain_order=True):
                found = tuple(part.select("both", "lower", "upper").mean().row(0))
                say(f"{bucket} failures, {name}, {part.height} fleets:", told(found, BUCKET))


def control(count, seed):
    """Print how the likelihood-ratio limits do where seven ages in ten are unknown: below 0.88."""
    for shape in SHAPES:
        for expected in (4, 8):
            units = simulated(shape, expected, SOME_UNKNOWN, seed, count // 2)
            found = likelihood_ratio_coverage(units, shape)
            say(f"likelihood ratio, shape {shape}, expected {expected}: shape {found[0]:.3f}, life {found[1]:.3f}")


def family(count, seed):
    """Print what a family adds, and the rule by failures where one member of each is unlike the others."""
    for known_share in CELL:
        parts = []
        for centre in SHAPES:
            rng = np.random.default_rng([seed, round(10 * centre)])
            few = few_failed(*of_families(rng, count * 6 // 100, 12, 8, centre=centre, known_share=known_share))
            parts.append(few)
            say(f"family, ages known of {known_share:.0%}, shape {centre}, {few.height} members:", _pooled(few))
        say(f"family, ages known of {known_share:.0%}, all shapes:", _pooled(pl.concat(parts)))
        for bucket in ("1-2", "3-4"):
            inside = pl.concat(parts).filter(pl.col("failures").is_between(*BUCKETS[bucket]))
            say(f"family, ages known of {known_share:.0%}, {bucket} failures:", _pooled(inside))
        _policy(count * 6 // 100, seed, known_share)


def _pooled(few):
    lower, upper = few["life50_lower_pooled"].log(), few["life50_upper_pooled"].log()
    held_in = ((lower <= few["truth"]) & (upper >= few["truth"])).mean()
    errors = log_error(few, "life50_pooled"), log_error(few, "life50")
    return f"both {held_in:.3f}, error of log median life {errors[0]:.3f} pooled, {errors[1]:.3f} own"


def _policy(families, seed, known_share):
    parts = []
    for centre in SHAPES:
        rng = np.random.default_rng([seed, round(10 * centre), 1])
        ordinary, strange = by_rule(*of_families(rng, families, 12, 8, centre=centre, known_share=known_share, odd=1))
        parts.append(ordinary)
        few = strange.filter(pl.col("failures") < 5)
        say(
            f"rule 34 with one odd member in twelve, ages known of {known_share:.0%}, shape {centre}: "
            f"{ordinary.height} ordinary members {ordinary['held'].mean():.3f}, "
            f"{few.height} odd ones with one to four failures {few['held'].mean():.3f}"
        )
    say(f"all shapes: ordinary members {pl.concat(parts)['held'].mean():.3f}")


def by_rule(units, log_life50, odd=1):
    """Return ordinary and odd members with a failure: whether both limits of life50 by rule 34 hold."""
    models = life_models(units.with_columns(pl.col("family").cast(pl.String)), "member", "family", parameters=CLOSED)[0]
    members = units.select(pl.col("member").n_unique() // pl.col("family").n_unique()).item()
    models = models.filter(pl.col("failures") > 0)
    true = np.exp(log_life50[models["member"].to_numpy()])
    models = models.with_columns(held=held(models, "life50", pl.Series(true))["both"])
    ordinary = pl.col("member") % members < members - odd
    return models.filter(ordinary), models.filter(~ordinary)


def renewal(count, seed):
    """Print the median life by the renewal likelihood in fleets of old cars."""
    rng = np.random.default_rng(seed)
    for shape, life, positions in OLD_CARS:
        error, as_new = median_errors(shape, life, positions, count, rng)
        say(
            f"old cars, shape {shape}, life {life:.0f} days, {error.size} fleets: median life "
            f"{math.exp(error.mean()):.3f} of the truth ({error.std() / math.sqrt(error.size):.3f}), error of its log "
            f"{math.sqrt((error**2).mean()):.3f}; units taken for new {math.exp(as_new.mean()):.3f}"
        )


PARTS = {"cells": cells, "control": control, "family": family, "renewal": renewal}


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--fleets", type=int, default=1000, help="fleets of known ages a cell (default 1000)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--part", choices=PARTS, action="append")
    given = parser.parse_args()
    for name in given.part or PARTS:
        PARTS[name](given.fleets, given.seed)


if __name__ == "__main__":
    main()
