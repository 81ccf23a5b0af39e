-- One row per : accepted row of one feed table, beside the row the ledger holds under its key
-- Reads       : incoming, undone_load, withdrawal, vehicles, and by name the table of this feed table
-- Parameters  : revisions VARCHAR, table of all revisions
--             : has_car BOOLEAN, whether vehicle_id must name a known car
-- Returns     : n BIGINT
--             : file VARCHAR
--             : row_no BIGINT
--             : quarantine_id BIGINT
--             : feed_source VARCHAR
--             : content VARCHAR
--             : row_key VARCHAR
--             : content_hash VARCHAR
--             : held_load BIGINT
--             : held_file VARCHAR
--             : held_row_no BIGINT
--             : held_content VARCHAR
--             : counts BOOLEAN, the held row is not withdrawn
--             : revisions BIGINT, so many the key has had
--             : same BOOLEAN, the held row says the same
--             : unknown_car BOOLEAN
-- Order       : n

with held as (

    select
        feed_source,
        row_key,
        load_id,
        file,
        row_no,
        content_hash,
        json_merge_patch(
            '{}',
            to_json(struct_pack(
                *columns(* exclude (feed_source, row_key, revision, load_id, file, row_no, content_hash))
            ))
        )::varchar as content
    from query_table($revisions)
    semi join incoming using (feed_source, row_key)
    where load_id not in (select load_id from undone_load)
    qualify row_number() over (partition by feed_source, row_key order by load_id desc, revision desc) = 1

),

withdrawn as (

    select
        h.feed_source,
        h.row_key
    from held as h
    semi join withdrawal as w
        on
            h.feed_source = w.feed_source
            and h.content ->> 'record_id' = w.record_id
            and coalesce((h.content ->> 'line_no')::bigint = w.line_no, w.line_no is null)
            and h.load_id <= w.load_id

),

numbered as (

    -- revisions of loads that were undone keep their numbers
    select
        feed_source,
        row_key,
        max(revision) as revision
    from query_table($revisions)
    semi join incoming using (feed_source, row_key)
    group by feed_source, row_key

)

select
    i.*,
    h.load_id as held_load,
    h.file as held_file,
    h.row_no as held_row_no,
    h.content as held_content,
    h.load_id is not null and w.row_key is null as counts,
    coalesce(r.revision, 0)::bigint as revisions,
    i.content_hash is not distinct from h.content_hash as same,
    coalesce(
        $has_car
        and i.content ->> 'vehicle_id' is not null
        and i.content ->> 'vehicle_id' not in (select vehicle_id from vehicles),
        false
    ) as unknown_car
from incoming as i
left join held as h on i.feed_source = h.feed_source and i.row_key = h.row_key
left join withdrawn as w on i.feed_source = w.feed_source and i.row_key = w.row_key
left join numbered as r on i.feed_source = r.feed_source and i.row_key = r.row_key
order by i.n
