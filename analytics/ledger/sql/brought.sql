-- One row per : key that this feed brings, also those refused
-- Reads       : decided, read_row
-- Returns     : row_key VARCHAR
-- Order       : row_key

select row_key
from decided
union
select row_key
from read_row
order by row_key
