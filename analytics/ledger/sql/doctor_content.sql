-- One row per : feed table
-- Reads       : by name the table of all revisions
-- Parameters  : revisions VARCHAR
-- Returns     : held BIGINT
--             : changed BIGINT, rows whose content is not that of their hash
-- Order       : held

with line as (

    select
        content_hash,
        json_merge_patch(
            '{}',
            to_json(struct_pack(
                *columns(* exclude (feed_source, row_key, revision, load_id, file, row_no, content_hash))
            ))
        )::varchar as content
    from query_table($revisions)

)

select
    count(*) as held,
    count(*) filter (content_hash != left(sha256(content), 32)) as changed
from line
order by held
