-- One row per : row as read that has the place or the key of one that waits to be mended

select n
from key_in
semi join open_row using (file, row_no)
union
select n
from (select n, to_json([${key}])::varchar as row_key from key_in)
semi join open_row using (row_key)
