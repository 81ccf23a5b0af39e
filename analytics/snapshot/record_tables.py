"""Declared tables of what lies behind: cars, records, readings, findings, the run itself."""

from __future__ import annotations

from analytics.snapshot.declare import declared

VEHICLE = declared(
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
    presence number 0-1 | chance that it is still in care, by the visits it has missed
    inferred text - | columns that were filled in, with ;
    """,
)

RECORD = declared(
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
    clean_check yes_no! - | an inspection that found the component good
    """,
)

READING = declared(
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

DATA_QUALITY = declared(
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

META = declared(
    "meta",
    "one row per named value",
    "name",
    """
    name text! - | what
    value text! - | its value
    """,
)
