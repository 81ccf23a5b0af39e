-- One row per : open quarantined row x column that is no longer open after this feed
-- Reads       : quarantine, quarantine_row, read_row, refused, mended
-- Parameters  : table VARCHAR
--             : load_id BIGINT
--             : ended_at TIMESTAMP
-- Returns     : quarantine_id BIGINT
--             : status VARCHAR
--             : by_hand BOOLEAN
--             : reason VARCHAR
--             : load_id BIGINT
--             : ended_at TIMESTAMP
-- Order       : quarantine_id

with open_row as (

    select
        *,
        row_json = '{}' or json_exists(row_json, '$."unread text"') as unread
    from quarantine
    where table_name = $table and status = 'open'

),

still_refused as (

    select
        r.*,
        row_json = '{}' or json_exists(row_json, '$."unread text"') as unread
    from read_row as r
    semi join refused using (n)

),

replaced as (

    -- another version of the row, refused as well: tried again on the sheet, or sent again by the source
    select
        q.quarantine_id,
        f.file,
        f.row_no
    from open_row as q
    inner join quarantine_row as s
        on q.table_name = s.table_name and q.feed_source = s.feed_source and q.row_hash = s.row_hash
    inner join still_refused as f
        on
            s.quarantine_id = f.quarantine_id
            or (q.feed_source = f.feed_source and q.row_key = f.row_key and not q.contested and not q.unread)
            or (q.feed_source = f.feed_source and q.file = f.file and q.row_no = f.row_no and q.unread and f.unread)
    anti join still_refused as again on q.feed_source = again.feed_source and q.row_hash = again.row_hash
    anti join mended as m on q.quarantine_id = m.quarantine_id

)

select
    quarantine_id,
    'mended' as status,
    by_hand,
    'taken as ' || file || ' row ' || row_no as reason,
    $load_id::bigint as load_id,
    $ended_at::timestamp as ended_at
from mended
union all
select
    quarantine_id,
    'withdrawn' as status,
    false as by_hand,
    'read again as ' || min(file) || ' row ' || min(row_no) as reason,
    $load_id::bigint as load_id,
    $ended_at::timestamp as ended_at
from replaced
group by quarantine_id
order by quarantine_id
