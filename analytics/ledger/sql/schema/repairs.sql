-- One row per : repair line that counts
-- Reads       : repairs_current
-- Why         : the native columns, what was inferred, and a name for the line that no other source has

create view repairs as

select
    r.* exclude (feed_source, row_key, revision, load_id, file, row_no, content_hash),
    r.feed_source as source,
    case when r.feed_source = '' then '' else r.feed_source || ':' end || r.record_id || '/' || r.line_no as line_id
from repairs_current as r
