-- One row per : position of a component on a car that is watched for failures (rules 15, 16)
-- Reads       : slot_draft, component_fact
-- Parameters  : none
-- Returns     : slot_no INTEGER, 1, 2, 3 by car, component and position: joins numbers where names would be slow
--             : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR, only where there is one; all where the component is shown for the whole car
--             : whole_car BOOLEAN
--             : position_no BIGINT, 1, 2, 3 in an order of the car's own
--             : positions BIGINT, how many the car has
-- Order       : none

with places as (

    select
        s.vehicle_id,
        s.component,
        case when f.whole_car then 'all' else s.position end as position,
        f.whole_car,
        case when f.whole_car then 1 else s.position_no end as position_no,
        case when f.whole_car then 1 else s.positions end as positions
    from slot_draft as s
    inner join component_fact as f using (component)
    -- of the whole car one is enough
    where s.position_no = 1 or not f.whole_car

)

select
    row_number() over (order by vehicle_id, component, position)::integer as slot_no,
    vehicle_id,
    component,
    position,
    whole_car,
    position_no,
    positions
from places
