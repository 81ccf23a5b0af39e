-- One row per : name that a person said to be another one
-- Reads       : same_now
-- Returns     : kind VARCHAR, component, part, location, position or vehicle
--             : old_name VARCHAR
--             : new_name VARCHAR
-- Order       : kind, old_name

select
    kind,
    old_name,
    new_name
from same_now
order by kind, old_name
