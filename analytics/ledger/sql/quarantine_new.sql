-- One row per : refused row x column that the quarantine does not hold yet
-- Reads       : refused, read_row, quarantine, quarantine_row
-- Parameters  : table VARCHAR
--             : load_id BIGINT
--             : key VARCHAR[], names of the key columns
-- Returns     : quarantine_id BIGINT
--             : load_id BIGINT
--             : settings_load BIGINT
--             : table_name VARCHAR
--             : feed_source VARCHAR
--             : row_key VARCHAR
--             : row_hash VARCHAR
--             : contested BOOLEAN
--             : file VARCHAR
--             : row_no BIGINT
--             : column_name VARCHAR
--             : value VARCHAR
--             : says VARCHAR
--             : vehicle_id VARCHAR
--             : day DATE
--             : planned BOOLEAN
--             : row_json VARCHAR
-- Order       : quarantine_id

with fresh as (

    select
        f.* exclude (contested),
        -- a key that cannot be read, or that another row holds, says nothing about which row this is
        bool_or(f.contested or list_contains($key, f.column_name)) over (partition by n) as contested,
        r.file,
        r.row_no,
        r.settings_load,
        r.feed_source,
        r.row_key,
        r.row_hash,
        r.row_json
    from refused as f
    inner join read_row as r using (n)
    where
        not exists (
            select 1
            from quarantine as q
            where
                q.table_name = $table
                and q.feed_source = r.feed_source
                and q.row_hash = r.row_hash
                and q.column_name = f.column_name
                and (q.status = 'open' or q.by_hand)
        )
    qualify row_number() over (
        partition by r.feed_source, r.row_hash, f.column_name order by n
    ) = 1

)

select
    (select coalesce(max(quarantine_id), 0) from quarantine_row)
    + row_number() over (order by n, column_name) as quarantine_id,
    $load_id::bigint as load_id,
    settings_load,
    $table as table_name,
    feed_source,
    row_key,
    row_hash,
    contested,
    file,
    row_no,
    column_name,
    value,
    says,
    vehicle_id,
    day,
    planned,
    row_json
from fresh
order by quarantine_id
