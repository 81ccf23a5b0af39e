-- One row per : accepted row of one feed table
-- Reads       : accepted_in
-- Parameters  : defaults VARCHAR, JSON of the defaults of key columns
--             : paths VARCHAR[], JSON paths of the key columns
--             : numbered BOOLEAN, whether equal rows are several (a table whose key is all of its columns)
-- Returns     : n BIGINT
--             : file VARCHAR
--             : row_no BIGINT
--             : quarantine_id BIGINT
--             : feed_source VARCHAR
--             : content VARCHAR
--             : row_key VARCHAR
--             : content_hash VARCHAR
-- Order       : n

with line as (

    -- empty cells are no content, so that a column added to the feed later changes no hash
    select
        n,
        file,
        row_no,
        quarantine_id,
        feed_source,
        json_merge_patch(
            '{}',
            to_json(struct_pack(*columns(* exclude (n, file, row_no, quarantine_id, feed_source))))
        ) as content
    from accepted_in

),

keyed as (

    select
        *,
        to_json(json_extract_string(json_merge_patch($defaults, content), $paths))::varchar as key_text
    from line

)

select
    n,
    file,
    row_no,
    quarantine_id,
    feed_source,
    content::varchar as content,
    case
        when $numbered
            then key_text || '#' || row_number() over (partition by feed_source, key_text order by content, n)
        else key_text
    end as row_key,
    left(sha256(content::varchar), 32) as content_hash
from keyed
order by n
