-- One row per : car of which the year of building is known
-- Reads       : vehicles
-- Returns     : vehicle_id VARCHAR
--             : built BIGINT, year
-- Order       : vehicle_id

select
    vehicle_id,
    year(built_on) as built
from vehicles
where built_on is not null
order by vehicle_id
