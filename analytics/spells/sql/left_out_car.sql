-- One row per : what was left out about cars and readings (rules 2, 6, 15, 22, 23, 25)
-- Reads       : vehicles, car, readings, car_component, watch_window, lay_up, order_line
-- Parameters  : as_of DATE, last day that counts
-- Returns     : kind VARCHAR
--             : count BIGINT
--             : out_of BIGINT, cars, readings, components of cars or orders
--             : example_record VARCHAR, null: no repair line shows it
--             : says VARCHAR, what was done about it
-- Order       : kind

with found as (

    select
        'car that was never seen' as kind,
        count(*) filter (where c.vehicle_id is null) as count,
        count(*) as out_of,
        'no order and no reading by the as-of day: the car does not exist yet' as says
    from vehicles as v
    left join car as c using (vehicle_id)
    union all
    select
        'car without a visit',
        count(*) filter (where visits = 0),
        count(*),
        'known from annual returns only: no exposure'
    from car
    union all
    select
        'reading after the as-of day',
        count(*) filter (where read_on > $as_of),
        count(*),
        'not known on that day: left out everywhere'
    from readings
    union all
    select
        'reading of a car that is not in vehicles',
        count(*) filter (where v.vehicle_id is null),
        count(*),
        'left out'
    from readings as r
    left join vehicles as v using (vehicle_id)
    union all
    select
        'reading without source',
        count(*) filter (where source is null),
        count(*),
        'taken as a visit'
    from readings
    where read_on <= $as_of
    union all
    select
        'component of a car without known serial',
        count(*) filter (where serial_unknown),
        count(*),
        'the positions of every range of serials are taken'
    from car_component
    where declared
    union all
    select
        'component of a car without a neutral visit',
        count(*) filter (where end_on is null),
        count(*),
        'its watching never ends on a visit that it did not cause: no exposure'
    from watch_window
    union all
    select
        'stay taken out of all exposure',
        (select count(*) from lay_up),
        coalesce(max(order_no), 0),
        'longer in the workshop than a stay counts as use'
    from order_line

)

select
    kind,
    count,
    out_of,
    null::varchar as example_record,
    says
from found
where count > 0
order by kind
