-- One row per : row as read that has the place or the key of one that waits to be mended, or whose key stands in its text

with line as (

    select
        n,
        file,
        row_no,
        to_json([${key}])::varchar as row_key
    from key_in

)

select n
from line
semi join open_row using (file, row_no)
union
select n
from line
semi join open_row using (row_key)
union
select n
from line
semi join open_row on trim(line.row_key ->> '$[0]') = open_row.word
