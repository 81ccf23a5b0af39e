-- One row per : repair line that counts
-- Reads       : repairs_current
-- Why         : the native columns, what was inferred, and a name for the line that no other source has; a source holds
--               no colon, so the first one ends it, and a number that holds one itself gets an empty source before it

create view repairs as

select
    r.* exclude (feed_source, row_key, revision, load_id, file, row_no, content_hash),
    r.feed_source as source,
    case when r.feed_source = '' and not contains(r.record_id, ':') then '' else r.feed_source || ':' end
    || r.record_id || '/' || r.line_no as line_id
from repairs_current as r
