"""Declared tables of stock: demand and orders."""

from __future__ import annotations

from analytics.snapshot.declare import declared

REORDER = declared(
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
    on_hand_aged number parts | on the shelf and beyond its shelf life, not among those on hand
    on_hand_ageing number parts | of those on hand, beyond their shelf life before the delivery after this one
    on_hand_old number parts | of those on hand, under numbers that were superseded
    available number parts | can be counted on: on hand and due, less reserved and less what ages unused
    reorder_point whole parts | order when fewer are available
    order_quantity whole parts | to order now, whole packs
    p_short number 0-1 | chance of a shortage before the delivery after this one, with what is ordered
    lasts_months number months | until it is used up in half of all cases, with what is ordered; null = over two years
    service_level number! 0-1 | chance of no shortage
    level_by text! - | what the service level follows from: setting or costs
    method text! - | installed base, pooled rate, family rate or too little to say
    basis text! - | the method, and what it lacks
    repairs whole! - | repairs in the history used
    car_years number! years | active car-years in the history used
    sales whole parts | sold or asked for over the counter in the history used
    sales_years number years | length of the history of sales used, 0 = no sale of it
    use_per_month number parts | used or asked for in a month, at the rates seen
    pack_size whole parts | parts in a pack
    minimum_order whole parts | smallest order
    cars whole - | that take it and may still be in care, of an installed base
    cars_present number - | of these, likely in care
    units whole - | in place where it is taken
    failing number - | repairs expected of units in place until the delivery after this one
    joining number - | repairs expected of cars that join
    planned number - | repairs expected as planned, in passing, by accident or in consequence
    counter number parts | expected over the counter
    rate_mean number parts | what the pooled rate expects, beside an installed base
    rate_point whole parts | reorder point by the pooled rate
    looks_like text - | numbers that look the same and do not fit
    fits text - | series it fits, all = every series; null = no parts list tells
    also_numbers text - | other numbers of the group, which it replaces
    supplier text - | who sells it
    lead_time_days number days | median lead time stated
    unit_cost number currency | cost of one
    currency text - | ISO 4217 code of the cost
    shelf_life_months number months | usable time on the shelf
    counted_on date - | day of the newest stock count, the oldest of its numbers
    oldest_made_on date - | day the oldest batch on the shelf was made
    reason text! - | one sentence
    """,
)

DEMAND = declared(
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

SUPPLY_END = declared(
    "supply_end",
    "one row per group and batch, where the smallest order outlasts the delivery after the next",
    "part_no batch",
    """
    part_no text! - | live number of the group
    batch whole! parts | bought now, 0 = none
    years number! years | how far ahead: ten, or as long as the part keeps on the shelf
    held number! parts | on the shelf and due, less those reserved
    cars_leave yes_no! - | whether leaving cars are counted, as from an installed base
    p_enough number! 0-1 | chance that batch and stock last so long
    expected_unmet number! parts | asked for in vain until then
    expected_left number! parts | left over then
    runs_out_p10 number years | until all is gone, in one case of ten; null = not within the years
    runs_out_p50 number years | in five of ten
    runs_out_p90 number years | in nine of ten
    pledged number! parts | promised to buyers whose cars are not in care, gone at once beside what the cars need
    pledged_in_care number parts | promised to buyers whose cars are in care, gone at once as part of what the cars need
    expected_need number parts | needed until then on average, without what is pledged beside
    pays_from whole parts | pledges beside from which the batch pays, or without costs is used up; null = none bought
    last_buy whole parts | least whole packs that last so long at the service level
    advised yes_no! - | the batch to choose: the cheapest where costs are stated, else the least that lasts
    expected_cost number currency | of parts left over and parts asked for in vain, where costs are stated
    regret number currency | expected cost above that of the cheapest batch compared
    currency text - | of the costs
    """,
)

ORDER_CHOICE = declared(
    "order_choice",
    "one row per interchangeable group with a stock count, and quantity that could be ordered now",
    "part_no choice",
    """
    part_no text! - | live number of the group
    choice text! - | nothing, smaller pack, advised or larger pack
    quantity whole! parts | ordered now
    packs whole! - | packs of it
    p_short number! 0-1 | chance of a shortage before the delivery after this one
    expected_short number! parts | asked for in vain until then, on average
    expected_left number! parts | left over then, on average
    lasts_months number months | until it is used up in half of all cases; null = over two years
    p_aged number 0-1 | chance that some of it outlasts its shelf life; null = it does not age
    cost number currency | of the quantity
    """,
)

DEMAND_CAR = declared(
    "demand_car",
    "one row per interchangeable group and car whose units stand behind its forecast, the most likely first",
    "part_no vehicle_id",
    """
    part_no text! - | live number of the group
    vehicle_id text! - | the car
    units whole! - | in place where the group is taken
    presence number! 0-1 | chance that the car is still in care
    expected number - | repairs expected until the delivery after this one; null = safety-critical
    """,
)

FORECAST_CHECK = declared(
    "forecast_check",
    "one row per group, method, past day and bound; empty until `backtest` was run",
    "part_no method origin quantile",
    """
    part_no text! - | live number of the group
    method text! - | installed base, pooled rate, moving average, Croston, SBA or TSB
    origin date! - | past day on which it was foretold, from what was known then
    horizon_days number! days | median lead time plus review
    quantile number! 0-1 | chance that the bound holds
    stated whole! parts | the bound
    happened whole! parts | needed within the horizon
    score number! parts | pinball loss of the bound
    mean number! parts | expected demand
    """,
)

FORECAST_SCORE = declared(
    "forecast_score",
    "one row per group, or all groups together, and method; empty until `backtest` was run",
    "part_no method",
    """
    part_no text! - | live number of the group, all = every group together
    method text! - | as in forecast_check; as used = installed base where there was one, else pooled rate
    parts whole! - | groups foretold
    days whole! - | past days
    forecasts whole! - | forecasts held against what happened
    held_50 number! 0-1 | share of forecasts whose bound of 50 in 100 held
    held_80 number! 0-1 | of 80 in 100
    held_90 number! 0-1 | of 90 in 100
    held_95 number! 0-1 | of 95 in 100
    mean_ratio number - | expected demand over what was needed; null where nothing was
    loss number! parts | mean pinball loss of the four bounds
    loss_ratio number - | scaled loss over that of the forecast as used, on the same days; null where that lost nothing
    lower number - | lower limit of it; null with too few days
    upper number - | upper limit of it
    p_value number 0-1 | of a difference as large by chance, over days and over groups, the larger one
    adjusted_p number 0-1 | adjusted over all groups and methods
    verdict text! - | in use, better, worse, within chance or too few
    """,
)

SHORTAGE_CURVE = declared(
    "shortage_curve",
    "one row per method and bound, all groups together; empty until `backtest` was run",
    "method quantile",
    """
    method text! - | as in forecast_score, those that foretold every group on every day
    quantile number! 0-1 | chance that the bound holds
    forecasts whole! - | forecasts held against what happened
    stocked number! parts | kept by the bound, mean of a group and day
    missing number 0-100 | of 100 parts needed, those beyond the bound; null where nothing was needed
    """,
)
