"""Declared tables of repairs that came back."""

from __future__ import annotations

from analytics.snapshot.declare import declared

REPEAT_REPAIR = declared(
    "repeat_repair",
    "one row per component, action and origin of the part: how many repairs came back within the window",
    "component action part_origin",
    """
    component text! - | kind of part
    action text! - | what was done, or all
    part_origin text! - | where the part came from, unknown, no part where none went in, or all
    repairs whole! - | repairs watched for the whole window
    returns whole! - | of these, came back with a failure of the same; what an inspection found is none
    vehicles whole! - | cars with such a repair
    share number 0-1 | returns over repairs
    lower number 0-1 | exact lower limit of the share
    upper number 0-1 | exact upper limit of the share
    expected_by_chance number returns | what the part's own lives beyond the window would bring, by the middle law
    chance_lower whole returns | fewer come by chance in at most 5 of 100 cases
    chance_upper whole returns | more come by chance in at most 5 of 100 cases
    excess number returns | returns less those expected by chance
    excess_lower number returns | exact lower limit
    excess_upper number returns | exact upper limit
    p_value number 0-1 | chance of as many returns or more
    adjusted_p number 0-1 | the same, adjusted by Benjamini and Hochberg over all components at this split
    verdict text! - | more than chance, no more than chance, or cannot be told
    status text! - | ok, too few, no life known or safety-critical
    repairs_open whole! - | not counted: the window is still open
    repairs_left whole! - | not counted: the car left before
    repairs_undated whole! - | not counted: only year or month is known
    """,
)

RETURN_PAIR = declared(
    "return_pair",
    "one row per repair that came back: the repair and the failure that brought it back",
    "repair_record",
    """
    repair_record text! - | line of the repair
    return_record text! - | line of the failure
    vehicle_id text! - | the car
    series text! - | production series
    component text! - | kind of part
    position text! - | slot on the car, as read of the repair
    position_blank yes_no! - | whether the repair named no slot, so that any of them counts
    action text! - | what was done
    part_origin text! - | as in repeat_repair
    handed_on date! - | handed over after the repair
    returned_on date! - | came in again
    days whole! days | between the two
    km whole km | driven between the two, null where not known
    """,
)
