-- One row per : value set aside in a row that is new or revised
-- Reads       : set_aside_in, decided
-- Parameters  : table VARCHAR
--             : load_id BIGINT
-- Returns     : load_id BIGINT
--             : table_name VARCHAR
--             : feed_source VARCHAR
--             : file VARCHAR
--             : row_no BIGINT
--             : column_name VARCHAR
--             : value VARCHAR
--             : says VARCHAR
-- Order       : file, row_no, column_name

select
    $load_id::bigint as load_id,
    $table as table_name,
    d.feed_source,
    d.file,
    d.row_no,
    s.column_name,
    s.value,
    s.says
from set_aside_in as s
inner join decided as d using (n)
where d.verdict in ('new', 'revised')
order by d.file, d.row_no, s.column_name
