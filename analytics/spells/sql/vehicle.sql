-- One row per : car seen by the as-of day
-- Reads       : car
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : series VARCHAR
--             : built_on DATE
--             : owner_key VARCHAR
--             : first_seen DATE
--             : last_seen DATE
--             : visits BIGINT
--             : left_on DATE
--             : odometer_digits BIGINT
--             : joined_on DATE
--             : first_visit_day DATE
--             : since_new BOOLEAN
--             : trusted BOOLEAN, the odometer shows the total distance (rule 30)
--             : inferred VARCHAR
-- Order       : vehicle_id

select
    vehicle_id,
    series,
    built_on,
    owner_key,
    first_seen,
    last_seen,
    visits,
    left_on,
    odometer_digits,
    joined_on,
    first_visit_day,
    since_new,
    since_new or coalesce(odometer_digits >= 6, false) as trusted,
    inferred
from car
order by vehicle_id
