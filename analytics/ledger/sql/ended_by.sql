-- One row per : quarantined row that one load ended, with all its columns
-- Reads       : quarantine_end, quarantine_row
-- Parameters  : load_id BIGINT
-- Returns     : table_name VARCHAR
--             : row_hash VARCHAR
--             : status VARCHAR
-- Order       : table_name, row_hash

select distinct
    q.table_name,
    q.row_hash,
    e.status
from quarantine_end as e
inner join quarantine_row as q using (quarantine_id)
where e.load_id = $load_id
order by q.table_name, q.row_hash
