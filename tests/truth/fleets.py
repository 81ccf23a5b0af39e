"""Fleets from a known law: positions renewed since the cars were built, watched from joining on for some years."""

import numpy as np
import polars as pl


def watched_units(rng, shape, life, positions, *, joined=(8.0, 35.0), stay=(3.0, 9.0), known_share=1.0):
    """Spells of one position in each of `positions` cars, as the shop sees them; times in the unit of `life`.

    `shape` and `life` are scalars or one per position. Units found at joining are of known age with probability
    `known_share`; units fitted while the car is watched always are.
    """
    joined_at = rng.uniform(*joined, positions)
    leaves_at = joined_at + rng.uniform(*stay, positions)
    fitted_at = np.zeros(positions)
    fails_at = life * rng.weibull(shape, positions)
    while (early := fails_at < joined_at).any():
        fitted_at = np.where(early, fails_at, fitted_at)
        fails_at = np.where(early, fails_at + life * rng.weibull(shape, positions), fails_at)
    known = rng.random(positions) < known_share
    zero_at = np.where(known, fitted_at, joined_at)
    found = (zero_at, joined_at, np.minimum(fails_at, leaves_at), fails_at <= leaves_at, known, joined_at)
    parts, here = [spell_rows(np.arange(positions), *found)], np.flatnonzero(fails_at <= leaves_at)
    fitted_at, shape, life = fails_at, np.broadcast_to(shape, positions), np.broadcast_to(life, positions)
    while here.size:
        start = fitted_at[here]
        fails = start + life[here] * rng.weibull(shape[here])
        end = np.minimum(fails, leaves_at[here])
        failed = fails <= leaves_at[here]
        parts.append(spell_rows(here, start, start, end, failed, np.ones(here.size, bool), start))
        fitted_at[here] = fails
        here = here[failed]
    return pl.concat(parts)


def spell_rows(position, zero_at, enters_at, ends_at, failed, known, vehicle_age):
    return pl.DataFrame(
        {
            "position": position,
            "entry": enters_at - zero_at,
            "exit": ends_at - zero_at,
            "event": failed.astype(np.int64),
            "age_known": known,
            "vehicle_age": vehicle_age,
        }
    )


def fleets(rng, count, cars, shape, life, **watching):
    """Spells of `count` fleets of `cars` positions each, with a column `fleet`."""
    units = watched_units(rng, shape, life, count * cars, **watching)
    return units.with_columns(fleet=pl.col("position") // cars)
