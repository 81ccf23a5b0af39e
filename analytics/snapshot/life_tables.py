"""Declared tables of lives: units at risk, curves, models."""

from __future__ import annotations

from analytics.snapshot.declare import declared

SPELL = declared(
    "spell",
    "one row per unit at risk, per scale (two where a lay-up cuts it)",
    "vehicle_id component position unit_no scale entry",
    """
    vehicle_id text! - | the car
    component text! - | kind of part
    position text! - | slot on the car
    unit_no whole! - | running number of the unit at its position, 1 = first known
    series text! - | production series of the car
    variant text! - | design of the fitted part, or unknown
    variant_told_by text! - | fitting, taking out, factory or nobody
    part_no text - | part fitted, where recorded
    part_origin text! - | where the part came from, or unknown
    scale text! - | age or distance
    entry whole! day_or_km | of the unit, when watching began, exclusive
    exit whole! day_or_km | of the unit, when watching ended, inclusive
    exit_lower whole day_or_km | last clean check, for a fault found at inspection
    event whole! - | 1 = failed
    cause text! - | how the spell ended
    age_known yes_no! - | whether the day of fitting is known
    vehicle_age whole day_or_km | of the car at entry, null where not known or not trusted
    position_inferred yes_no! - | whether a blank position was filled in by rule 16
    reason_recorded yes_no! - | whether the ending record told its reason
    start_record text - | line that fitted the unit
    end_record text - | line that ended the spell
    km_per_year number km_per_year | driven by the car in the year around a failure, distance scale
    """,
)

SURVIVAL_CURVE = declared(
    "survival_curve",
    "one row per group, scale and event time; units of known age",
    "component grouping level scale time",
    """
    component text! - | kind of part
    grouping text! - | component, variant, part_origin, series, position or action
    level text! - | value of the grouping, or all
    scale text! - | age or distance
    given_lasted_to whole! day_or_km | the curve is conditional on lasting to here
    time whole! day_or_km | of the unit
    at_risk whole! units | watched just before
    events whole! units | failed at this time
    survival number! 0-1 | share still working
    lower number 0-1 | lower limit
    upper number 0-1 | upper limit
    """,
)

LIFE_MODEL = declared(
    "life_model",
    "one row per group and scale",
    "component grouping level scale",
    """
    component text! - | kind of part
    grouping text! - | component, variant, part_origin, series, position or action
    level text! - | value of the grouping, or all
    scale text! - | age or distance
    failures whole! - | failures used
    units whole! - | units watched
    unit_time number! day_or_km | sum of exposure
    events_seen whole! - | failures recorded before the window rules
    events_used whole! - | of these, used
    shape number - | Weibull shape, posterior median
    shape_lower number - | lower limit
    shape_upper number - | upper limit
    life number day_or_km | life by which 63.2 % have failed
    life_lower number day_or_km | lower limit
    life_upper number day_or_km | upper limit
    life10 number day_or_km | life by which 10 % have failed
    life10_lower number day_or_km | lower limit
    life10_upper number day_or_km | upper limit
    life50 number day_or_km | life by which 50 % have failed
    life50_lower number day_or_km | lower limit
    life50_upper number day_or_km | upper limit
    basis text! - | own, family or bound only
    status text! - | ok, bound only, upper open, unlike family, no finite estimate, too few or safety-critical
    family text - | family it borrows from
    family_members whole - | components in the family
    family_failures whole - | failures in the family
    system text - | system of the component, where the catalogue names it
    safety_critical yes_no! - | no remaining life may be shown
    safety_told_by text - | stated, by name or nobody: how that was decided
    default_grouping yes_no! - | rule 33: the grouping pages and forecasts use
    rate_upper number per_100_unit_years | upper limit of the failure rate, age scale
    """,
)

LIFE_SURVIVAL = declared(
    "life_survival",
    "one row per group, scale and age asked at: the posterior's survival",
    "component grouping level scale time",
    """
    component text! - | kind of part
    grouping text! - | as in life_model
    level text! - | as in life_model
    scale text! - | age or distance
    time whole! day_or_km | age of the unit asked at
    survival number - | share still working, posterior median
    lower number 0-1 | lower limit
    upper number 0-1 | upper limit
    basis text! - | own, family or bound only
    """,
)

SENSITIVITY = declared(
    "sensitivity",
    "one row per component and choice: what its median life would be",
    "component choice",
    """
    component text! - | kind of part
    choice text! - | as shown, last visit, last visit and grace, day of analysis, known age only, by distance
    scale text! - | age or distance
    failures whole! - | failures used
    units whole! - | units watched
    life50 number day_or_km | life by which 50 % have failed
    life50_lower number day_or_km | lower limit
    life50_upper number day_or_km | upper limit
    basis text! - | own, family or bound only
    status text! - | as in life_model
    times_shown number - | median life over the one shown; null by distance
    """,
)

PLANNED_REPLACEMENT = declared(
    "planned_replacement",
    "one row per default group, scale and ratio of costs; no safety-critical component",
    "component grouping level scale cost_ratio",
    """
    component text! - | kind of part
    grouping text! - | as in life_model
    level text! - | as in life_model
    scale text! - | age or distance
    cost_ratio number! - | cost of a failure over that of a planned replacement
    failures whole! - | failures used
    age number day_or_km | of the unit, at which replacing it before it fails is cheapest
    age_lower number day_or_km | lower limit
    age_upper number day_or_km | upper limit
    saving number 0-1 | share of the long-run cost that it saves
    saving_lower number 0-1 | lower limit
    saving_upper number 0-1 | upper limit
    status text! - | ok, may not wear out, or too few
    """,
)

EXPERT_OPINION = declared(
    "expert_opinion",
    "one row per component with an opinion: beside the records, and with them",
    "component",
    """
    component text! - | kind of part
    first_years number years | age asked at first
    first_good number of_10 | of 10 newly fitted, still good then
    second_years number years | a later age
    second_good number of_10 | of 10, still good then
    cars number! cars | how many the opinion is worth, as stated
    cars_counted number! cars | how many it counts for
    source text - | whose opinion
    failures whole! - | failures used
    units whole! - | units watched
    opinion_life50 number days | median life by the opinion alone
    records_life50 number days | by the records alone
    records_life50_lower number days | lower limit
    records_life50_upper number days | upper limit
    life50 number days | by both together
    life50_lower number days | lower limit
    life50_upper number days | upper limit
    opinion_share number 0-1 | how much of what both tell of the median life the opinion brings
    basis text! - | own and expert
    status text! - | ok, upper open, or mostly opinion
    """,
)

UNIT_NOW = declared(
    "unit_now",
    "one row per position of a car",
    "vehicle_id component position",
    """
    vehicle_id text! - | the car
    component text! - | kind of part
    position text! - | slot on the car
    unit_no whole! - | running number
    series text! - | production series
    variant text! - | design, or unknown
    part_no text - | part fitted
    fitted_on date - | day of fitting, null where not known
    age whole days | since fitted, or since the car joined
    age_known yes_no! - | whether the day of fitting is known
    distance whole km | since fitted, or since the car joined
    state text! - | running, after repair, or fault found and left
    start_record text - | line that fitted it
    """,
)
