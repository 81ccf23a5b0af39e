-- One row per : quarantined row x column, whatever became of it
-- Reads       : quarantine_row, load
-- Returns     : quarantine_id BIGINT
--             : load_id BIGINT
--             : table_name VARCHAR
--             : feed_source VARCHAR
--             : row_hash VARCHAR
--             : column_name VARCHAR
--             : feed_hash VARCHAR, the kept feed it stands in
--             : file VARCHAR
--             : row_no BIGINT
-- Order       : quarantine_id

select
    q.quarantine_id,
    q.load_id,
    q.table_name,
    q.feed_source,
    q.row_hash,
    q.column_name,
    l.feed_hash,
    q.file,
    q.row_no
from quarantine_row as q
inner join load as l using (load_id)
order by q.quarantine_id
