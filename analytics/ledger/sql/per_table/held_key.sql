-- One row per : key that the ledger holds, by a hash
-- Why         : content_hash is that of its newest row, null where all loads of it are undone

create or replace temp table held_key as

select
    hash(feed_source, row_key) as key_hash,
    arg_max(hash(content_hash), load_id) filter (
        load_id not in (select load_id from undone_load)
    ) as content_hash
from ${revision}
group by key_hash
