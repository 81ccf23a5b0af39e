"""The snapshot's declared tables: what other programs may read."""

from __future__ import annotations

from analytics.records.table import Column, Kind, Table


def _columns(text: str) -> tuple[Column, ...]:
    """Read columns from lines of ``name kind[!] unit | meaning``; ``!`` = never empty, ``-`` = no unit."""
    columns = []
    for line in text.strip().splitlines():
        head, meaning = line.split("|", 1)
        name, kind, unit = head.split()
        kinds: dict[str, Kind] = {
            "text": "text",
            "date": "date",
            "number": "number",
            "whole": "whole",
            "yes_no": "yes_no",
            "instant": "instant",
        }
        columns.append(
            Column(
                name,
                kinds[kind.rstrip("!")],
                meaning.strip(),
                unit="" if unit == "-" else unit,
                nullable=not kind.endswith("!"),
            )
        )
    return tuple(columns)


def _table(name: str, meaning: str, key: str, columns: str) -> Table:
    return Table(name, meaning, tuple(key.split()), _columns(columns))


SPELL = _table(
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
    """,
)

SURVIVAL_CURVE = _table(
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

LIFE_MODEL = _table(
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
    status text! - | ok, bound only, upper open, unlike family, no finite estimate or too few
    family text - | family it borrows from
    family_members whole - | components in the family
    family_failures whole - | failures in the family
    safety_critical yes_no! - | no remaining life may be shown
    default_grouping yes_no! - | rule 33: the grouping pages and forecasts use
    rate_upper number per_100_unit_years | upper limit of the failure rate, age scale
    """,
)

LIFE_SURVIVAL = _table(
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

FAILURE_INTERVAL = _table(
    "failure_interval",
    "one row per component, position and series",
    "component position series",
    """
    component text! - | kind of part
    position text! - | slot on the car, or all
    series text! - | production series, or all
    failures whole! - | failures within the windows
    vehicles whole! - | cars watched
    vehicle_years number! years | car-years watched
    distance_km number km | km driven while watched
    rate_per_100_vehicle_years number - | failures per 100 car-years
    rate_lower number - | exact lower limit
    rate_upper number - | exact upper limit
    median_interval_days number days | median gap to the next failure at the same position
    median_status text! - | ok or why there is none
    trend_z number - | Laplace statistic over the cars' own windows
    trend_p_value number 0-1 | two-sided
    events_seen whole! - | failures recorded
    events_used whole! - | of these, within the windows
    """,
)

MEAN_CUMULATIVE = _table(
    "mean_cumulative",
    "one row per group, scale of the car and event time",
    "component grouping level scale time",
    """
    component text! - | kind of part
    grouping text! - | component, series or position
    level text! - | value of the grouping, or all
    scale text! - | age or distance, of the car
    time whole! day_or_km | of the car
    at_risk whole! cars | watched just before
    events whole! - | failures at this time
    mcf number! failures_per_car | mean cumulative failures
    lower number - | lower limit
    upper number - | upper limit
    """,
)

FAULT_LOCATION = _table(
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
    probability_above_one number 0-1 | posterior
    scan_p number 0-1 | tree-wide scan, later
    name text - | words for people
    parent text - | the place it is part of
    x number 0-1 | plan view, 0 = the car's left
    y number 0-1 | plan view, 0 = nose
    deck text - | above or below
    """,
)

FAULT = _table(
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
    """,
)

REORDER = _table(
    "reorder",
    "one row per interchangeable group",
    "part_no",
    """
    part_no text! - | live number of the group
    components text! - | components it serves
    horizon_days number! days | median lead time plus review
    demand_mean number parts | expected demand
    p50 whole parts | not exceeded in 50 of 100
    p80 whole parts | not exceeded in 80 of 100
    p90 whole parts | not exceeded in 90 of 100
    p95 whole parts | not exceeded in 95 of 100
    p99 whole parts | not exceeded in 99 of 100
    on_hand number parts | on the shelf
    on_order number parts | on order and due within the horizon
    reserved number parts | reserved
    reorder_point whole parts | order when fewer are available
    order_quantity whole parts | to order now, whole packs
    service_level number! 0-1 | chance of no shortage
    method text! - | how the demand was forecast
    basis text! - | rate, or why there is none
    repairs whole! - | repairs in the history used
    car_years number! years | active car-years in the history used
    pack_size whole parts | parts in a pack
    looks_like text - | numbers that look the same and do not fit
    reason text! - | one sentence
    """,
)

DEMAND = _table(
    "demand",
    "one row per interchangeable group, horizon and quantity",
    "part_no horizon_days quantity",
    """
    part_no text! - | live number of the group
    horizon_days number! days | horizon
    quantity whole! parts | demand
    probability number! 0-1 | of exactly this demand
    """,
)

VEHICLE = _table(
    "vehicle",
    "one row per car",
    "vehicle_id",
    """
    vehicle_id text! - | the car
    series text! - | production series
    built_on date - | built
    owner_key text - | opaque word for the owner
    first_seen date! - | day of the first visit
    last_seen date! - | day of the last visit
    visits whole! - | visits so far
    left_on date - | left care
    presence number 0-1 | chance that it is still in care, later
    """,
)

RECORD = _table(
    "record",
    "one row per order line up to the as-of day, without free text",
    "record",
    """
    record text! - | what every _record column points to
    record_id text! - | the order
    line_no whole! - | its line
    vehicle_id text! - | the car
    series text! - | production series
    opened_on date - | came in
    closed_on date! - | closed
    odometer_km number km | odometer on arrival, converted
    component text - | kind of part
    position text - | slot on the car
    location text - | the place
    action text! - | what was done
    reason text! - | why
    part_no text - | part fitted
    part_origin text - | where it came from
    quantity number - | parts used
    labour_minutes number minutes | labour
    inferred text - | columns that were filled in, with ;
    spell_note text! - | what the line did in the life tables
    """,
)

UNIT_NOW = _table(
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

READING = _table(
    "reading",
    "one row per odometer figure and what was made of it",
    "vehicle_id read_on seen_at",
    """
    vehicle_id text! - | the car
    read_on date! - | day
    seen_at text! - | record or source of the figure
    odometer number! odometer_unit | as recorded
    odometer_unit text! - | km or mi
    total_km number km | total distance, null where set aside
    verdict text! - | used, converted or set aside, and why
    """,
)

DATA_QUALITY = _table(
    "data_quality",
    "one row per finding",
    "kind",
    """
    kind text! - | what was found, in words
    count whole! - | how often
    share number 0-1 | of what it could have been
    example_record text - | one line that shows it
    says text! - | what was done about it
    """,
)

META = _table(
    "meta",
    "one row per named value",
    "name",
    """
    name text! - | what
    value text! - | its value
    """,
)

TABLES: dict[str, Table] = {
    table.name: table
    for table in (
        SPELL,
        SURVIVAL_CURVE,
        LIFE_MODEL,
        LIFE_SURVIVAL,
        FAILURE_INTERVAL,
        MEAN_CUMULATIVE,
        FAULT_LOCATION,
        FAULT,
        REORDER,
        DEMAND,
        VEHICLE,
        RECORD,
        UNIT_NOW,
        READING,
        DATA_QUALITY,
        META,
    )
}
"""The snapshot's tables by name."""
