-- One row per : event at a position, named or blank, of a car and component with several (rules 16, 17)
-- Reads       : unit_count, fitted, unit_place
-- Parameters  : as_of DATE, last day that counts
-- Returns     : event_no BIGINT, 0, 1, 2 by group and time
--             : group_no BIGINT, 0, 1, 2: car and component
--             : order_rank BIGINT, 0, 1, 2: order in its group; a fitting told by papers counts as one
--             : vehicle_id VARCHAR
--             : component VARCHAR
--             : order_no INTEGER, null where an owner's papers tell
--             : position_no BIGINT, 0, 1, 2 by name; -1 where it must be filled in
--             : positions BIGINT, how many the car has
--             : renews BOOLEAN
--             : units BIGINT, units renewed
--             : closed_day BIGINT, days since 1970-01-01 of the renewal
--             : part_no VARCHAR
--             : line_key INTEGER, the line of that part
-- Order       : none

with events as (

    select
        vehicle_id,
        component,
        order_no,
        position,
        min(fault_on) over (partition by order_no, component) as fault_on,
        max(closed_on) over (partition by order_no, component) as closed_on,
        renews,
        units,
        part_no,
        line_key
    from unit_count
    union all
    select
        vehicle_id,
        component,
        null as order_no,
        position,
        coalesce(fitted_to, fitted_from) as fault_on,
        coalesce(fitted_to, fitted_from) as closed_on,
        true as renews,
        1 as units,
        null as part_no,
        null as line_key
    from fitted
    where position is not null and coalesce(fitted_to, fitted_from) <= $as_of

)

select
    row_number() over by_time - 1 as event_no,
    dense_rank() over (order by e.vehicle_id, e.component) - 1 as group_no,
    dense_rank() over (order by e.vehicle_id, e.component, e.fault_on, e.closed_on, e.order_no nulls first) - 1
        as order_rank,
    e.vehicle_id,
    e.component,
    e.order_no,
    coalesce(n.position_no, -1) as position_no,
    a.positions,
    e.renews,
    e.units,
    e.closed_on - date '1970-01-01' as closed_day,
    e.part_no,
    e.line_key
from events as e
inner join unit_place as a
    on e.vehicle_id = a.vehicle_id and e.component = a.component and a.position_no = 0
left join unit_place as n
    on e.vehicle_id = n.vehicle_id and e.component = n.component and e.position = n.position
where e.position is null or n.position is not null
window by_time as (
    partition by null
    order by
        e.vehicle_id, e.component, e.fault_on, e.closed_on, e.order_no nulls first, n.position_no nulls last
)
