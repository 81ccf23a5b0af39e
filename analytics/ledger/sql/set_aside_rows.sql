-- One row per : value set aside in a row that counts
-- Reads       : set_aside, current_row
-- Parameters  : load_id BIGINT, null = of every load
-- Returns     : table VARCHAR
--             : file VARCHAR
--             : row_no BIGINT
--             : column VARCHAR
--             : value VARCHAR
--             : says VARCHAR
--             : source VARCHAR
--             : load_id BIGINT
-- Order       : load_id, table_name, file, row_no, column_name

select
    s.table_name as "table",
    s.file,
    s.row_no,
    s.column_name as "column",
    s.value,
    s.says,
    s.feed_source as source,
    s.load_id
from set_aside as s
semi join current_row as r
    on
        s.table_name = r.table_name
        and s.load_id = r.load_id
        and s.file = r.file
        and s.row_no = r.row_no
where $load_id is null or s.load_id = $load_id
order by s.load_id, s.table_name, s.file, s.row_no, s.column_name
