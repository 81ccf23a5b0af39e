-- One row per : open quarantined row x column
-- Reads       : quarantine
-- Returns     : quarantine_id BIGINT
--             : table VARCHAR
--             : file VARCHAR
--             : row_no BIGINT
--             : column VARCHAR, whole row where no column alone is wrong
--             : value VARCHAR
--             : says VARCHAR
--             : vehicle_id VARCHAR
--             : day DATE
--             : planned BOOLEAN
--             : source VARCHAR
--             : load_id BIGINT
--             : row_hash VARCHAR
--             : row VARCHAR, JSON of the row as it was read
-- Order       : quarantine_id

select
    quarantine_id,
    table_name as "table",
    file,
    row_no,
    case when column_name = '' then 'whole row' else column_name end as "column",
    value,
    says,
    vehicle_id,
    day,
    planned,
    feed_source as source,
    load_id,
    row_hash,
    row_json as "row"
from quarantine
where status = 'open'
order by quarantine_id
