-- One row per : place and key of rows of this feed table that wait to be mended

create or replace temp table open_row as

select distinct
    file,
    row_no,
    row_key
from quarantine
where table_name = ${text} and status = 'open'
