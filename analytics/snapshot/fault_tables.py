"""Declared tables of faults: how often, when and where."""

from __future__ import annotations

from analytics.snapshot.declare import declared

FAULT = declared(
    "fault",
    "one row per fault counted: a visit, its component, position and place",
    "fault_record component position",
    """
    fault_record text! - | the line
    vehicle_id text! - | the car
    series text! - | production series
    visit_day date! - | day of the visit
    component text! - | kind of part, or none
    position text! - | slot on the car, or all
    location text - | the place
    reads_as text! - | failure, found at inspection or consequence
    used yes_no! - | whether it lies within the component's window
    why_unused text - | why it does not count in lives and rates; empty where it does
    position_inferred yes_no! - | whether the line named no position and rule 16 filled it in
    """,
)

FAILURE_INTERVAL = declared(
    "failure_interval",
    "one row per component, position and series",
    "component position series",
    """
    component text! - | kind of part
    position text! - | slot on the car, or all
    series text! - | production series, or all
    failures whole! - | within the windows: failures, consequences and faults found at inspection
    vehicles whole! - | cars watched
    vehicle_years number! years | car-years watched
    distance_km number km | km driven while watched
    rate_per_100_vehicle_years number - | failures per 100 car-years
    rate_lower number - | exact lower limit
    rate_upper number - | exact upper limit
    median_interval_days number days | median gap to the next failure at the same position
    median_status text! - | ok or why there is none
    trend_failures whole - | of the failures, those the trend is told from: none of the window's first 60, last 45 days
    trend_cars whole - | cars with such a failure
    trend_z number - | Laplace statistic over the cars' own windows, every car taken whole; positive = they crowd late
    trend_p_value number 0-1 | two-sided, the sign of every car drawn anew
    trend_adjusted_p number 0-1 | among whole components; of their parts among these, and at least the component's
    trend text! - | improving, steady (no trend shows), worsening or too little to say
    yearly_change number - | failures of a year over those of the year before, each car compared with itself
    yearly_change_lower number - | lower limit, by the same test as trend_p_value
    yearly_change_upper number - | upper limit
    detectable_yearly_change number - | of whole components: a true change of so much is noticed in 8 of 10 such fleets
    events_seen whole! - | failures recorded
    events_used whole! - | of these, within the windows
    """,
)

INTERVAL_COMPARISON = declared(
    "interval_comparison",
    "one row per component and pair of series, or of positions: which fails more often",
    "component grouping level_a level_b",
    """
    component text! - | kind of part
    grouping text! - | series or position
    level_a text! - | first series or position
    level_b text! - | second one
    failures_a whole! - | of the first within the windows, as in failure_interval; of positions, where the line names it
    failures_b whole! - | failures of the second
    vehicles_a whole! - | cars watched; of positions, those that have both
    vehicles_b whole! - | cars watched
    rate_ratio number - | how many times as often the second fails; of series at the same age of the car
    lower number - | lower limit, by the same test as p_value
    upper number - | upper limit
    p_value number 0-1 | whole cars dealt out anew between the series within their ages, or positions of a car swapped
    adjusted_p number 0-1 | the same, adjusted by Benjamini and Hochberg over all these comparisons
    comparisons whole! - | how many these are
    status text! - | ok, bound only (the second never failed), upper open (the first never failed) or too few
    """,
)

MEAN_CUMULATIVE = declared(
    "mean_cumulative",
    "one row per group, scale of the car and event time",
    "component grouping level scale time",
    """
    component text! - | kind of part
    grouping text! - | component, series or position
    level text! - | value of the grouping, or all
    scale text! - | age or distance, of the car
    counted_from whole! day_or_km | of the car: failures count from here on, where enough cars are watched
    time whole! day_or_km | of the car
    at_risk whole! cars | watched just before
    events whole! - | failures at this time
    mcf number! failures_per_car | mean cumulative failures
    lower number - | lower limit
    upper number - | upper limit
    """,
)

BEFORE_AFTER = declared(
    "before_after",
    "one row per component and modification: whether it fails less often since",
    "component kind modification",
    """
    component text! - | kind of part
    kind text! - | modified (action of the record), or design (one that supersedes another)
    modification text! - | the design fitted or made, else modified
    vehicles whole! - | cars with it that were watched
    first_on date! - | day of the first one
    led_to_it whole! - | failures that led to a modification; they count as unmodified, and not before
    before_failures whole! - | failures of these positions before, without the one that led to it
    before_years number! years | watched before, of every position alone
    before_rate number - | failures per 100 of these years
    before_lower number - | exact lower limit
    before_upper number - | exact upper limit
    after_failures whole! - | failures since
    after_years number! years | watched since
    after_rate number - | failures per 100 of these years
    after_lower number - | exact lower limit
    after_upper number - | exact upper limit
    unmodified_failures whole! - | failures of positions not modified by then, in the same calendar years
    unmodified_years number! years | watched in these years
    unmodified_rate number - | failures per 100 of these years
    unmodified_lower number - | exact lower limit
    unmodified_upper number - | exact upper limit
    expected number - | failures since that the same cars would have had unmodified
    ratio number - | failures since over expected ones
    lower number - | lower limit, of both
    upper number - | upper limit
    verdict text! - | fewer failures, more failures, cannot be told or too few
    """,
)

FAULT_LOCATION = declared(
    "fault_location",
    "one row per place (every level of the tree), series and basis",
    "location series basis",
    """
    location text! - | the place
    series text! - | production series, or all
    basis text! - | average place, or same place, other series
    orders whole! - | orders with a fault there
    vehicles whole! - | cars with a fault there
    observed whole! visits | distinct visits with a fault there
    expected number visits | by chance on this basis
    ratio number - | observed over expected
    lower number - | exact lower limit of the ratio
    upper number - | exact upper limit of the ratio
    shrunken_ratio number - | after allowing for luck
    shrunken_lower number - | its lower limit
    shrunken_upper number - | its upper limit
    probability_above_one number 0-1 | posterior
    scan_p number 0-1 | how often some place of the tree, in some series, stands out as much by chance alone
    detectable_ratio number - | a true excess of this many times would be noticed here in 8 of 10 such fleets
    blanks whole! visits | visits of the series with a fault whose place nobody named
    blank_share number 0-1 | of all its visits with a fault
    scan_p_blanks_elsewhere number 0-1 | the same if all of them belonged elsewhere (those of the other series: here)
    scan_p_blanks_here number 0-1 | the same if all of them belonged here
    name text - | words for people
    parent text - | the place it is part of
    depth whole - | its level in the tree, 1 = top; 1 for all where no table of places is loaded
    x number 0-1 | plan view, 0 = the car's left
    y number 0-1 | plan view, 0 = nose
    deck text - | above or below
    """,
)
