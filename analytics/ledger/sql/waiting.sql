-- One row per : feed table with rows that wait to be mended
-- Reads       : quarantine
-- Returns     : table_name VARCHAR
-- Order       : table_name

select distinct table_name
from quarantine
where status = 'open'
order by table_name
