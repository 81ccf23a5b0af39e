-- One row per : load x table and file, also of loads undone
-- Reads       : load, load_file
-- Returns     : load_id BIGINT
--             : feed_hash VARCHAR
--             : table_name VARCHAR, null = the feed had no rows
--             : file VARCHAR
--             : rows_read BIGINT
--             : files VARCHAR, names and hashes of the original files, JSON
-- Order       : load_id, table_name, file

select
    l.load_id,
    l.feed_hash,
    f.table_name,
    f.file,
    f.rows_read,
    l.files
from load as l
left join load_file as f using (load_id)
order by l.load_id, f.table_name, f.file
