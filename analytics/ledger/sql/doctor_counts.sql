-- One row per : load x table whose stored rows are not those counted when it was loaded
-- Reads       : load, load_file, revision_row, quarantine_row
-- Returns     : load_id BIGINT
--             : table_name VARCHAR
--             : what VARCHAR
--             : counted BIGINT
--             : stored BIGINT
-- Order       : load_id, table_name, what

with stored as (

    select
        load_id,
        table_name,
        count(*) as n
    from revision_row
    group by load_id, table_name

),

counted as (

    select
        load_id,
        table_name,
        sum(rows_read)::bigint as rows_read,
        sum(accepted + revised)::bigint as taken,
        sum(accepted + unchanged + revised + quarantined)::bigint as told
    from load_file
    group by load_id, table_name

),

totals as (

    select
        load_id,
        sum(rows_read)::bigint as rows_read
    from load_file
    group by load_id

),

held as (

    select
        load_id,
        count(*) as n
    from quarantine_row
    group by load_id

),

faults as (

    select
        coalesce(c.load_id, s.load_id) as load_id,
        coalesce(c.table_name, s.table_name) as table_name,
        'rows taken' as what,
        coalesce(c.taken, 0) as counted,
        coalesce(s.n, 0) as stored
    from counted as c
    full join stored as s on c.load_id = s.load_id and c.table_name = s.table_name
    union all
    select load_id, table_name, 'rows accounted for', rows_read, told
    from counted
    union all
    select l.load_id, 'all tables', 'rows read', l.rows_read, coalesce(t.rows_read, 0)
    from load as l
    left join totals as t using (load_id)
    union all
    select load_id, 'all tables', 'rows x columns in quarantine', to_quarantine, coalesce(h.n, 0)
    from load
    left join held as h using (load_id)
    union all
    -- numbers have no holes: a load that is gone is missed
    select max(load_id) + 1, 'all tables', 'loads', greatest(max(load_id), 0), count(*)
    from load

)

select *
from faults
where counted != stored
order by load_id, table_name, what
