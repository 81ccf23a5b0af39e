-- One row per : ledger
-- Reads       : current_row, quarantine, load, undone_load, setting, same_now
-- Returns     : digest VARCHAR, hash over everything an analysis can depend on, whatever the order of loading
-- Order       : digest

with held as (

    select table_name || ':' || feed_source || ':' || row_key || ':' || content_hash as line
    from current_row
    union all
    select 'quarantine:' || table_name || ':' || feed_source || ':' || row_hash || ':' || column_name as line
    from quarantine
    where status = 'open'
    union all
    select 'load:' || feed_hash as line
    from load
    anti join undone_load using (load_id)
    union all
    select 'setting:' || name || ':' || arg_max(value, load_id) as line
    from setting
    anti join undone_load using (load_id)
    group by name
    union all
    select 'same:' || to_json([kind, old_name, new_name]) as line
    from same_now

),

digests as (

    select sha256(line) as digest
    from held

),

bucketed as (

    -- in buckets, so that no text grows with the ledger
    select
        left(digest, 3) as bucket,
        sha256(string_agg(digest, '' order by digest)) as digest
    from digests
    group by bucket

)

select sha256(coalesce(string_agg(digest, '' order by bucket), '')) as digest
from bucketed
order by digest
