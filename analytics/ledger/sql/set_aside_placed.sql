-- One row per : value set aside in a new row that stands alone
-- Reads       : aside_in, placed
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
    p.feed_source,
    p.file,
    p.row_no,
    s.column_name,
    s.value,
    s.says
from aside_in as s
inner join placed as p using (n)
where p.verdict = 'new'
order by p.file, p.row_no, s.column_name
