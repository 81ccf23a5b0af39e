-- One row per : setting of one load
-- Reads       : setting
-- Parameters  : load_id BIGINT
-- Returns     : name VARCHAR
--             : value VARCHAR, JSON
-- Order       : name

select
    name,
    value
from setting
where load_id = $load_id
order by name
