-- One row per : load after a given one, also those undone since
-- Reads       : load
-- Parameters  : load_id BIGINT
-- Returns     : load_id BIGINT
--             : feed_hash VARCHAR
--             : loaded_on DATE
--             : complete BOOLEAN
-- Order       : load_id

select
    load_id,
    feed_hash,
    loaded_on,
    complete
from load
where load_id > $load_id
order by load_id
