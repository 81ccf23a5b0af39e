-- One row per : accepted row of one feed table that may have to do with another row
-- Reads       : doubtful
-- Parameters  : numbered BOOLEAN, whether equal rows are several (a table whose key is all of its columns)
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

    select
        n,
        file,
        row_no,
        quarantine_id,
        feed_source,
        key_text,
        content_hash,
        json_merge_patch(
            '{}',
            to_json(struct_pack(
                *columns(* exclude (n, file, row_no, quarantine_id, feed_source, key_text, content_hash))
            ))
        )::varchar as content
    from doubtful

)

select
    n,
    file,
    row_no,
    quarantine_id,
    feed_source,
    content,
    case
        when $numbered
            then key_text || '#' || row_number() over (partition by feed_source, key_text order by content, n)
        else key_text
    end as row_key,
    content_hash
from line
order by n
