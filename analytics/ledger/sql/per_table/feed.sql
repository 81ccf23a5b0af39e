-- One row per : row that counts, as a feed would bring it, and what was inferred

create view ${feed} as

select r.* exclude (feed_source, row_key, revision, load_id, file, row_no, content_hash)
from ${current} as r
