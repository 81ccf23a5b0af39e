"""Declared tables of comparisons: age or distance, and levels of a grouping."""

from __future__ import annotations

from analytics.snapshot.declare import declared

SCALE_CHOICE = declared(
    "scale_choice",
    "one row per component: whether it wears by age or by distance; units of known age",
    "component",
    """
    component text! - | kind of part
    units whole! - | units watched on both scales
    failures whole! - | of these, failed
    units_without whole! - | units left out because their km are not known
    failures_without whole! - | of these, failed
    rate_spread number - | how unlike the cars are used: standard deviation of the log km a day
    log_likelihood_age number per_day | of the failures, if age alone counts
    log_likelihood_distance number per_day | of the same failures, if distance alone counts
    theta number 0-1 | share of distance in the most likely mixture of the two
    lower number 0-1 | lower limit
    upper number 0-1 | upper limit
    verdict text! - | age, distance or cannot be told (then shown by age)
    status text! - | ok, no km, km missing unevenly, too few failures or used alike
    """,
)

COMPARISON = declared(
    "comparison",
    "one row per component, scale and pair of levels of a grouping: which lasts longer",
    "component grouping level_a level_b scale",
    """
    component text! - | kind of part
    grouping text! - | variant, part_origin, series or action
    level_a text! - | first level
    level_b text! - | second level
    scale text! - | age or distance
    failures_a whole! - | failures of the first
    failures_b whole! - | failures of the second
    units_a whole! - | units of the first
    units_b whole! - | units of the second
    life_ratio number - | median life of the second over that of the first
    lower number - | lower limit
    upper number - | upper limit
    p_value number 0-1 | twice the smaller chance that the ratio is below or above 1; not told below 0.0001
    adjusted_p number 0-1 | the same, adjusted by Benjamini and Hochberg over all comparisons of the analysis
    comparisons whole! - | how many these are
    told_apart_best yes_no! - | rule 33: the pair that differs most for certain names the better grouping
    status text! - | ok, bound only, too few or safety-critical
    """,
)
