-- One row per : place and key of rows of this feed table that wait to be mended, and word of those not split

create or replace temp table open_row as

select distinct
    file,
    row_no,
    row_key,
    null as word
from quarantine
where table_name = ${text} and status = 'open'
union
select
    null as file,
    null as row_no,
    null as row_key,
    trim(unnest(regexp_split_to_array(row_json ->> '$."unread text"', '[,;\t|"]'))) as word
from quarantine
where table_name = ${text} and status = 'open'
