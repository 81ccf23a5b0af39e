"""Declared tables of which part fits which car."""

from __future__ import annotations

from analytics.snapshot.declare import declared

PART_FIT = declared(
    "part_fit",
    "one row per part number, place and range of cars it fits, as the parts list says",
    "part_no component position series serial_from",
    """
    part_no text! - | part number
    live_no text! - | number it is ordered under
    component text! - | kind of part
    position text - | slot, null = all
    series text - | production series, null = all
    serial_from text - | first serial, null = from the first
    serial_to text - | last serial, null = to the last
    before_from date - | a car built up to this day has a serial before serial_from
    since_from date - | a car built from this day on has serial_from or a later one
    until_to date - | a car built up to this day has serial_to or an earlier one
    after_to date - | a car built from this day on has a serial after serial_to
    looks_like text - | numbers that look the same and do not fit, with ;
    """,
)

PART_FOR_CAR = declared(
    "part_for_car",
    "one row per car not known to have left, place, and part number that fits or may fit",
    "vehicle_id component position part_no",
    """
    vehicle_id text! - | the car
    component text! - | kind of part
    position text! - | slot, all = every one
    part_no text! - | part number
    live_no text! - | number it is ordered under
    fits text! - | yes or cannot be told
    told_by text! - | what tells it: serial, build date, series, no limit or nothing
    looks_like text - | numbers that look the same and do not fit this car, with ;
    says text! - | one sentence
    """,
)

PART_MISFIT = declared(
    "part_misfit",
    "one row per order line whose part does not fit its car by the parts list",
    "record",
    """
    record text! - | the order line
    vehicle_id text! - | the car
    closed_on date! - | fitted
    component text! - | kind of part
    position text - | slot
    part_no text! - | part fitted
    told_by text! - | what tells it: series, serial or build date
    fits_range text! - | cars it fits
    fits_instead text - | numbers that fit there, with ;
    looks_alike yes_no! - | one of these looks like the part fitted
    says text! - | one sentence
    """,
)

CATALOGUE_FINDING = declared(
    "catalogue_finding",
    "one row per contradiction or gap in the parts list",
    "kind part_no other_part_no component position series serial_from",
    """
    kind text! - | circle, two successors, look-alike in one group, overlap, gap or range upside down
    part_no text! - | part number
    other_part_no text - | the other one
    component text - | kind of part
    position text - | slot, null = all
    series text - | production series, null = all
    serial_from text - | first serial concerned
    serial_to text - | last serial concerned
    says text! - | one sentence
    """,
)
