-- One row per : component of a car, with the positions that are watched for failures (rules 15, 16)
-- Reads       : car_component, component_fact
-- Parameters  : none
-- Returns     : window_no INTEGER
--             : car_no INTEGER
--             : vehicle_id VARCHAR
--             : component VARCHAR
--             : whole_car BOOLEAN
--             : layout_no INTEGER
--             : positions BIGINT, how many; 1 where the component is shown for the whole car
--             : first_slot_no INTEGER, number of the first; the others follow by name
-- Order       : none

with counted as (

    select
        p.window_no,
        f.whole_car,
        case when f.whole_car then 1 else p.positions end as positions
    from car_component as p
    inner join component_fact as f using (component)

),

numbered as (

    select
        *,
        (1 + sum(positions) over (order by window_no) - positions)::integer as first_slot_no
    from counted

)

select
    p.window_no,
    p.car_no,
    p.vehicle_id,
    p.component,
    n.whole_car,
    p.layout_no,
    n.positions,
    n.first_slot_no
from car_component as p
inner join numbered as n using (window_no)
