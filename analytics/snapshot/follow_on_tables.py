"""Declared tables of follow-on failures: which component fails after which, and the pairs of records behind it."""

from __future__ import annotations

from analytics.snapshot.declare import declared

FOLLOW_ON = declared(
    "follow_on",
    "one row per ordered pair of components that failed one after the other on some car",
    "first then",
    """
    first text! - | component that failed first
    then text! - | component that failed after it
    window_days whole! days | from the hand-over of the first within which the second came in
    n_first_then whole! cars | on which they failed in this order, one pair per car
    n_then_first whole! cars | on which they failed the other way round
    expected_share number 0-1 | share in this order that the two components' calendars alone give
    p_value number 0-1 | one-sided: chance of so many cars in this order if neither harms the other
    adjusted_p number 0-1 | the same, adjusted by Benjamini and Hochberg over all rows tested with it
    tests whole! - | how many these are: of declared pairs and of all others apart
    declared yes_no! - | whether it is stated beforehand, or by a record, that the first harms the second
    stated yes_no! - | whether the feed's components state it in may_harm
    told_by whole! - | records whose reason says that the second is a consequence of the first
    set_apart whole! cars | 1 where only pairs counted here declare it: the first of these is not used in its own test
    first_watched whole! - | failures of the first that could be followed for the window
    followed whole! - | of these, followed by a failure of the second
    share number 0-1 | followed over first_watched
    share_lower number 0-1 | exact lower limit
    share_upper number 0-1 | exact upper limit
    median_days number days | median time from hand-over of the first to the second's failure
    median_status text! - | ok, or why there is none: no such pair or safety-critical
    first_safety_critical yes_no! - | of the first
    then_safety_critical yes_no! - | of the second
    status text! - | ok, too few or renewed together
    """,
)

FOLLOW_ON_PAIR = declared(
    "follow_on_pair",
    "one row per pair of records that table follow_on counts: one per car and two components",
    "first then vehicle_id",
    """
    first text! - | component that failed first
    then text! - | component that failed after it
    vehicle_id text! - | the car
    first_record text! - | line of the first failure
    then_record text! - | line of the second
    first_on date! - | day of the first visit
    then_on date! - | day of the second visit
    days whole! days | from hand-over of the first to the second visit
    told yes_no! - | whether the second record says that it is a consequence, and of nothing else
    """,
)
