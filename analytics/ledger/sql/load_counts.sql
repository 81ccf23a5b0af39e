-- One row per : table and file of one load
-- Reads       : load_file
-- Parameters  : load_id BIGINT
-- Returns     : table_name VARCHAR
--             : file VARCHAR
--             : rows_read BIGINT
--             : accepted BIGINT
--             : unchanged BIGINT
--             : repeated BIGINT
--             : revised BIGINT
--             : quarantined BIGINT
--             : set_aside BIGINT
-- Order       : table_name, file

select
    table_name,
    file,
    rows_read,
    accepted,
    unchanged,
    repeated,
    revised,
    quarantined,
    set_aside
from load_file
where load_id = $load_id
order by table_name, file
