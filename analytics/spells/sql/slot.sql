-- One row per : position of a component on a car that is watched for failures (rules 15, 16)
-- Reads       : car_place
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
    (first_slot_no + generate_subscripts(positions, 1) - 1)::integer as slot_no,
    window_no,
    car_no,
    vehicle_id,
    component,
    unnest(positions) as position,
    whole_car,
    len(positions) as positions
from car_place
