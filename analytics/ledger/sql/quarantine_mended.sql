-- One row per : open quarantined row x column that this feed mends, and the row that does
-- Reads       : quarantine, quarantine_row, read_row, decided, refused, mended_text
-- Parameters  : table VARCHAR
--             : blank VARCHAR, JSON merge patch that empties columns a mapping may form anew
-- Returns     : quarantine_id BIGINT
--             : file VARCHAR
--             : row_no BIGINT
--             : by_hand BOOLEAN, mended on the quarantine sheet
-- Order       : quarantine_id

with open_row as (

    select *
    from quarantine
    where table_name = $table and status = 'open'

),

taken as (

    select r.*
    from read_row as r
    semi join decided as d
        on r.n = d.n and d.verdict in ('new', 'revised', 'unchanged', 'repeated')

),

still_refused as (

    select r.*
    from read_row as r
    semi join refused using (n)

),

mended as (

    -- the quarantine sheet carries the number of the row; all columns of that row are mended together
    select
        q.quarantine_id,
        t.file,
        t.row_no,
        true as by_hand
    from taken as t
    inner join quarantine_row as s using (quarantine_id)
    inner join open_row as q
        on s.table_name = q.table_name and s.feed_source = q.feed_source and s.row_hash = q.row_hash
    union all
    -- the same words, taken now: the car has become known, or the other row is gone
    select
        q.quarantine_id,
        t.file,
        t.row_no,
        false as by_hand
    from open_row as q
    inner join taken as t using (feed_source, row_hash)
    union all
    -- the same place, and nothing else differs
    select
        q.quarantine_id,
        t.file,
        t.row_no,
        false as by_hand
    from open_row as q
    inner join taken as t using (feed_source, file, row_no)
    where
        q.row_json = '{}'
        or json_merge_patch(json_merge_patch(q.row_json, $blank), json_object(q.column_name, null))::varchar
        = json_merge_patch(json_merge_patch(t.row_json, $blank), json_object(q.column_name, null))::varchar
    union all
    -- what stands in a text that could not be split
    select
        quarantine_id,
        file,
        row_no,
        false as by_hand
    from mended_text
    union all
    -- the same key, where no other row has a claim on it
    select
        q.quarantine_id,
        t.file,
        t.row_no,
        false as by_hand
    from open_row as q
    inner join taken as t using (feed_source, row_key)
    anti join still_refused as f on q.feed_source = f.feed_source and q.row_hash = f.row_hash
    where not q.contested

)

select
    quarantine_id,
    min(file) as file,
    min(row_no) as row_no,
    bool_or(by_hand) as by_hand
from mended
group by quarantine_id
order by quarantine_id
