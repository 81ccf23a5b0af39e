-- One row per : position of a component on a car that is watched for failures (rules 15, 16)
-- Reads       : car_place, layout
-- Parameters  : none
-- Returns     : slot_no INTEGER, 1, 2, 3 by car, component and position: joins numbers where names would be slow
--             : window_no INTEGER
--             : car_no INTEGER
--             : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR, only where there is one; all where the component is shown for the whole car
--             : whole_car BOOLEAN
--             : positions BIGINT, how many the car has
-- Order       : none

select
    (p.first_slot_no + y.place_no - 1)::integer as slot_no,
    p.window_no,
    p.car_no,
    p.vehicle_id,
    p.component,
    case when p.whole_car then 'all' else y.position end as position,
    p.whole_car,
    p.positions
from car_place as p
inner join layout as y using (layout_no)
where y.place_no <= p.positions
