-- One row per : accepted row of this feed table that others have a claim on; none yet
create or replace temp table doubtful as

select
    r.* exclude (row_key, revision, load_id),
    null::bigint as n,
    null::bigint as quarantine_id,
    null::varchar as key_text
from ${revision} as r
limit 0
