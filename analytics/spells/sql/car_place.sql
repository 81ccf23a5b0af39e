-- One row per : component of a car, with the positions that are watched for failures (rules 15, 16)
-- Reads       : car_component, component_fact
-- Parameters  : none
-- Returns     : window_no INTEGER
--             : car_no INTEGER
--             : vehicle_id VARCHAR
--             : component VARCHAR
--             : whole_car BOOLEAN
--             : positions VARCHAR[], by name; all where the component is shown for the whole car
--             : first_slot_no INTEGER, number of the first; the others follow
-- Order       : none

with places as (

    select
        window_no,
        car_no,
        vehicle_id,
        component,
        f.whole_car,
        case when f.whole_car then ['all'] else p.positions end as positions
    from car_component as p
    inner join component_fact as f using (component)

)

select
    *,
    (1 + sum(len(positions)) over (order by window_no) - len(positions))::integer as first_slot_no
from places
