-- One row per : repair line of a known car, closed by the as-of day (rules 1, 2, 6)
-- Reads       : repair_line, vehicles
-- Parameters  : as_of DATE, last day that counts
--             : renumber_days INTEGER, lines of one number further apart are two orders
-- Returns     : line_id VARCHAR
--             : order_id VARCHAR, source, number and car; a suffix where the number starts again
--             : vehicle_id VARCHAR
--             : series VARCHAR
--             : opened_on DATE, own or the order's; null if neither is told
--             : fault_on DATE, opened_on else closed_on
--             : order_from DATE, first fault_on of the order
--             : order_to DATE, last closed_on of the order
--             : order_planned BOOLEAN, some line of the order is planned
--             : opened_set_aside BOOLEAN, opened_on lay after closed_on
--             : order_part BIGINT, 1 = first use of the number
-- Order       : line_id

with known as (

    select
        r.line_id,
        r.source,
        r.record_id,
        r.line_no,
        r.vehicle_id,
        v.series,
        r.closed_on,
        r.reason,
        coalesce(r.opened_on > r.closed_on, false) as opened_set_aside,
        case when r.opened_on <= r.closed_on then r.opened_on end as own_opened_on
    from repair_line as r
    inner join vehicles as v using (vehicle_id)
    where r.closed_on <= $as_of

),

gaps as (

    select
        *,
        closed_on - lag(closed_on) over number_of_car as days_since_line_before
    from known
    window number_of_car as (partition by source, record_id, vehicle_id order by closed_on, line_no, line_id)

),

-- a number used again years later must not become one stay of years (the reason of rule 5)
parts as (

    select
        *,
        1 + count(*) filter (where days_since_line_before > $renumber_days) over (
            partition by source, record_id, vehicle_id
            order by closed_on, line_no, line_id
        ) as order_part
    from gaps

),

orders as (

    select
        *,
        -- a source holds no colon, so the first one ends it; a stroke within a name is doubled, one alone ends it
        case when source = '' and not contains(record_id, ':') then '' else source || ':' end
        || replace(record_id, '|', '||') || ' | ' || replace(vehicle_id, '|', '||')
        || case when order_part > 1 then ' | ' || order_part else '' end as order_id
    from parts

),

dated as (

    select
        *,
        min(own_opened_on) over (partition by order_id) as order_opened_on,
        coalesce(own_opened_on, case when order_opened_on <= closed_on then order_opened_on end) as opened_on
    from orders

)

select
    line_id,
    order_id,
    vehicle_id,
    series,
    opened_on,
    coalesce(opened_on, closed_on) as fault_on,
    min(coalesce(opened_on, closed_on)) over (partition by order_id) as order_from,
    max(closed_on) over (partition by order_id) as order_to,
    coalesce(bool_or(reason = 'planned') over (partition by order_id), false) as order_planned,
    opened_set_aside,
    order_part
from dated
order by line_id
