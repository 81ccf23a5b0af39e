-- One row per : line at its position; one more for each unit renewed in passing by a pair or quantity (rules 16, 17)
-- Reads       : line_place, unit_place, component_fact, car_place, unit_event, unit_answer
-- Parameters  : none
-- Returns     : line_key INTEGER, of a unit renewed in passing the line whose part it was
--             : repair_no INTEGER, 1, 2, 3 by order, component and position: lines of one number are one repair
--             : order_no INTEGER
--             : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR
--             : window_no INTEGER, null where the component is not on the car
--             : slot_no INTEGER, null where the car has no such position
--             : whole_car BOOLEAN, null there
--             : position_inferred BOOLEAN
--             : named BOOLEAN, the line names the position
--             : passing BOOLEAN, renewed in passing without a line of its own
-- Order       : none

with answers as (

    select
        e.order_no,
        e.vehicle_id,
        e.component,
        e.line_key,
        e.position_no < 0 as blank,
        a.passing,
        s.position,
        s.slot_no,
        s.window_no
    from unit_event as e
    inner join unit_answer as a using (event_no)
    inner join unit_place as s
        on e.vehicle_id = s.vehicle_id and e.component = s.component and a.position_no = s.position_no
    where e.order_no is not null

),

places as (

    select
        p.line_key,
        p.order_no,
        p.vehicle_id,
        p.component,
        case when c.whole_car then 'all' else coalesce(p.position, a.position) end as position,
        p.window_no,
        case
            when p.position is null and not c.whole_car then a.slot_no
            when c.whole_car then w.first_slot_no
            else w.first_slot_no + p.place_no - 1
        end as slot_no,
        c.whole_car,
        not c.whole_car and (p.position is null or p.filled is not null) as position_inferred,
        p.position is not null as named,
        false as passing
    from line_place as p
    inner join component_fact as c using (component)
    left join car_place as w using (window_no)
    left join answers as a
        on p.order_no = a.order_no and p.component = a.component and p.position is null and a.blank and not a.passing
    union all
    select
        line_key,
        order_no,
        vehicle_id,
        component,
        position,
        window_no,
        slot_no,
        false as whole_car,
        true as position_inferred,
        false as named,
        true as passing
    from answers
    where passing

)

select
    line_key,
    (dense_rank() over (order by order_no, component || ' | ' || position))::integer as repair_no,
    order_no,
    vehicle_id,
    component,
    position,
    window_no,
    slot_no,
    case when slot_no is not null then whole_car end as whole_car,
    position_inferred,
    named,
    passing
from places
