-- One row per : row of one feed table as it was read, before any judgement
-- Reads       : text_in
-- Parameters  : defaults VARCHAR, JSON of the defaults of key columns
--             : paths VARCHAR[], JSON paths of the key columns
-- Returns     : n BIGINT, place of the row in the feed's table
--             : file VARCHAR
--             : row_no BIGINT
--             : quarantine_id BIGINT
--             : settings_load BIGINT
--             : feed_source VARCHAR
--             : row_json VARCHAR
--             : row_key VARCHAR
--             : row_hash VARCHAR
-- Order       : n

with line as (

    select
        n,
        file,
        row_no,
        quarantine_id,
        settings_load,
        feed_source,
        json_merge_patch(
            '{}',
            to_json(struct_pack(*columns(* exclude (n, file, row_no, quarantine_id, settings_load, feed_source))))
        ) as content
    from text_in

)

select
    n,
    file,
    row_no,
    quarantine_id,
    settings_load,
    feed_source,
    content::varchar as row_json,
    to_json(json_extract_string(json_merge_patch($defaults, content), $paths))::varchar as row_key,
    -- a row of which no text was kept has no words of its own; its place tells it from others
    left(sha256(case
        when content::varchar = '{}' then file || row_no || content::varchar
        else content::varchar
    end), 32) as row_hash
from line
order by n
