"""Declared tables of complaints, checks and the readings taken at them."""

from __future__ import annotations

from analytics.snapshot.declare import declared

CHECK_ORDER = declared(
    "check_order",
    "one row per complaint, series and step: where to look first",
    "complaint series step",
    """
    complaint text! - | the complaint, in words that several cars had
    series text! - | production series
    step whole! - | 1 = first check
    location text - | where it is looked for: its usual place, else where it was found most often
    component text! - | kind of part to check
    probability number! 0-1 | chance that it is the cause, where there is one
    probability_lower number! 0-1 | lower limit; 0 where no own job ended at it
    probability_upper number! 0-1 | upper limit; where no own job ended at it, as if half a job had, one-sided
    sensitivity number! 0-1 | share of its faults that a check finds
    minutes number minutes | of the check, once it can be reached
    minutes_from text! - | stated, inspections (their labour), typical (of all checks) or unknown
    cover text - | place that must be opened for it
    access_minutes number minutes | to open that place here; 0 where an earlier step has opened it
    minutes_after number minutes | from the first check to the end of this one
    expected_minutes_so_far number minutes | the same on average over jobs that may end earlier
    found_by_now number! 0-1 | chance that this check or an earlier one finds the cause
    minutes_saved number minutes | by this check now and not last, covers included, over jobs that come so far
    times_best_of_100 whole - | plausible worlds of 100 in which it is the best of those still to be made; alone: empty
    tied yes_no! - | whether the records do not prefer it to those after it
    safety_first yes_no! - | safety-critical: comes first by name, outside the ranking
    basis text! - | own, family (few jobs of its own, other series borrowed) or few (nothing to borrow)
    jobs whole! - | closed jobs with this complaint on this series that ended there
    own_jobs whole! - | closed jobs with this complaint on this series and a cause found
    family_jobs whole! - | the same on the other series
    none_found whole! - | closed jobs with this complaint on this series at which nothing was found
    """,
)

COMPLAINT = declared(
    "complaint",
    "one row per visit, complaint and cause found; one row where none was found",
    "record complaint",
    """
    record text! - | line that tells the cause, else the first with the complaint
    vehicle_id text! - | the car
    series text! - | production series
    came_on date! - | first day of the visit
    closed_on date! - | hand-over
    complaint text! - | in words that several cars had
    component text - | the cause; where none was found, what was looked at
    location text - | the place
    outcome text! - | found, no fault found or no cause named
    """,
)

CHECK_REPLAY = declared(
    "check_replay",
    "one row per order of checks: every closed job once more, with only the records before it",
    "checked",
    """
    checked text! - | chance over minutes (the order of check_order), or another order
    jobs whole! - | closed jobs replayed
    vehicles whole! - | their cars
    never_met whole! - | jobs left out because no earlier job named their cause
    minutes number! minutes | of checks until the cause is found, on average
    minutes_lower number! minutes | lower limit, cars drawn with replacement
    minutes_upper number! minutes | upper limit
    more number! minutes | than chance over minutes
    more_lower number! minutes | lower limit
    more_upper number! minutes | upper limit
    """,
)

CHECK_READING = declared(
    "check_reading",
    "one row per reading taken at a check, against its limits",
    "record",
    """
    record text! - | the line
    vehicle_id text! - | the car
    series text! - | production series
    read_on date! - | day
    component text! - | kind of part
    position text - | slot on the car
    measured number! measured_unit | as recorded
    measured_unit text - | as recorded
    value number! unit | in the unit of the limit, else in the usual one
    unit text! - | that unit
    converted yes_no! - | whether it was recorded in another one
    lower number unit | least good reading
    upper number unit | greatest good reading
    source text - | who says so
    verdict text! - | below, within, above or no limit
    """,
)

READING_DRIFT = declared(
    "reading_drift",
    "one row per component and unit: readings against their limits, and over the years",
    "component unit",
    """
    component text! - | kind of part
    unit text! - | of all figures
    readings whole! - | taken
    vehicles whole! - | cars
    first_on date! - | first day
    last_on date! - | last day
    lowest number! unit | least reading
    median number! unit | middle reading
    highest number! unit | greatest reading
    converted whole! - | readings recorded in another unit
    limit_lower number unit | least good reading
    limit_upper number unit | greatest good reading
    source text - | who says so
    below whole! - | readings below
    within whole! - | readings within
    above whole! - | readings above
    read_again whole! - | cars read more than once
    per_year number unit | change in a year, each car compared with itself
    per_year_lower number unit | lower limit
    per_year_upper number unit | upper limit
    status text! - | ok or too few (cars read more than once)
    units_apart whole! - | other units of this component that cannot be converted into this one
    """,
)
