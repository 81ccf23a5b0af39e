"""Age or distance in the snapshot: which units take part, and what rule 29 refuses."""

import numpy as np
import polars as pl

from analytics.parameters import Parameters
from analytics.recurrence.wear import on_both_scales, scale_choices


def spells(n=60, *, component="clutch", by_distance=True, seed=4):
    """Return n units of known age with a spell on each scale, cars used unlike."""
    rng = np.random.default_rng(seed)
    rate = 5 * np.exp(0.7 * rng.standard_normal(n))
    life = 4000 * rng.weibull(2.5, n) / ((rate / 5) if by_distance else 1)
    leave = np.maximum(np.minimum(life, 5000), 30).astype(np.int64)
    shared = {
        "component": component,
        "vehicle_id": [f"car{k}" for k in range(n)],
        "position": "only",
        "unit_no": 2,
        "start_record": [f"r{k}" for k in range(n)],
        "entry": 0,
        "exit_lower": pl.Series([None] * n, dtype=pl.Int64),
        "event": (life <= 5000).astype(np.int64),
        "age_known": True,
    }
    age = pl.DataFrame(
        {**shared, "scale": "age", "exit": leave, "km_per_year": pl.Series([None] * n, dtype=pl.Float64)}
    )
    km = (leave * rate).astype(np.int64)
    return pl.concat([age, pl.DataFrame({**shared, "scale": "distance", "exit": km, "km_per_year": rate * 365.25})])


def choice(frame, refused=()):
    return scale_choices(frame, refused, Parameters()).row(0, named=True)


def test_the_planted_scale_is_found_for_each_component():
    both = pl.concat([spells(), spells(component="hose", by_distance=False)])
    table = scale_choices(both, [], Parameters())
    assert dict(table.select("component", "verdict").rows()) == {"clutch": "distance", "hose": "age"}


def test_rule_29_a_component_without_a_distance_law_gets_no_choice():
    row = choice(spells(), ["clutch"])
    assert (row["verdict"], row["status"]) == ("cannot be told", "km missing unevenly")
    assert row["theta"] is row["lower"] is row["log_likelihood_age"] is row["log_likelihood_distance"] is None
    assert row["failures"] > 10


def test_rule_27_units_of_unknown_age_take_no_part():
    unknown = spells().with_columns(age_known=pl.lit(value=False), start_record=pl.lit(None, pl.String))
    assert choice(pl.concat([spells(), unknown])) == choice(spells())
    assert scale_choices(unknown, [], Parameters()).is_empty()


def test_a_unit_whose_watching_was_cut_is_one_unit_and_its_parts_share_its_km():
    frame = spells(20)
    first = (pl.col("scale") == "age") & (pl.col("vehicle_id") == "car0")
    whole = frame.filter(first)
    end = whole["exit"].item()
    early = whole.with_columns(exit=pl.lit(10, pl.Int64), event=pl.lit(0, pl.Int64))
    late = whole.with_columns(entry=pl.lit(min(15, end - 1), pl.Int32))
    cut = pl.concat([frame.filter(~first), early, late.cast(early.schema)])
    assert on_both_scales(cut).equals(on_both_scales(frame))


def test_two_stretches_of_one_unit_stay_two():
    frame = spells(20)
    second = frame.with_columns(start_record=pl.lit("modified"), entry=pl.col("exit"), exit=pl.col("exit") + 900)
    paired = on_both_scales(pl.concat([frame, second.cast(frame.schema)]))
    assert paired.height == 40
    assert (paired["distance_exit"] > paired["distance_entry"]).all()


def test_a_silent_fault_that_is_no_interval_by_distance_is_taken_as_exact_on_both():
    lower = pl.when(pl.col("scale") == "age").then(pl.col("exit") - 20).otherwise("exit")
    paired = on_both_scales(spells(20).with_columns(exit_lower=lower))
    assert paired["age_exit_lower"].null_count() == paired["distance_exit_lower"].null_count() == 20
