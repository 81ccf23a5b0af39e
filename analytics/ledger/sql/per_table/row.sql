select
    ${text} as table_name,
    feed_source,
    row_key,
    revision,
    load_id,
    file,
    row_no,
    content_hash
from ${rows}
