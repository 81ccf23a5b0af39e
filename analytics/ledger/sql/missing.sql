-- One row per : repair line of this source that counts and that a complete feed no longer brings (rule 4)
-- Reads       : repairs_current, brought
-- Parameters  : source VARCHAR
-- Returns     : record_id VARCHAR
--             : line_no BIGINT
--             : vehicle_id VARCHAR
--             : closed_on DATE
--             : component VARCHAR
--             : load_id BIGINT
--             : file VARCHAR
--             : row_no BIGINT
-- Order       : record_id, line_no

select
    record_id,
    line_no,
    vehicle_id,
    closed_on,
    component,
    load_id,
    file,
    row_no
from repairs_current
anti join brought using (row_key)
where feed_source = $source
order by record_id, line_no
