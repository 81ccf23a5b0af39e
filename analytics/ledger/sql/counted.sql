-- One row per : file of one feed table
-- Reads       : tally_in, decided, refused, read_row
-- Parameters  : table VARCHAR
--             : load_id BIGINT
-- Returns     : load_id BIGINT
--             : table_name VARCHAR
--             : file VARCHAR
--             : rows_read BIGINT
--             : accepted BIGINT
--             : unchanged BIGINT
--             : repeated BIGINT
--             : revised BIGINT
--             : quarantined BIGINT
--             : set_aside BIGINT
-- Order       : file

with verdicts as (

    select
        file,
        count(*) filter (verdict = 'new') as accepted,
        count(*) filter (verdict in ('unchanged', 'repeated')) as unchanged,
        count(*) filter (verdict = 'repeated') as repeated,
        count(*) filter (verdict = 'revised') as revised
    from decided
    group by file

),

refusals as (

    -- a row with two bad columns is one row
    select
        file,
        count(distinct n) as quarantined
    from refused
    inner join read_row using (n)
    group by file

),

files as (

    -- rows that stand alone are counted as they are taken
    select
        file,
        sum(rows_read)::bigint as rows_read,
        sum(accepted)::bigint as accepted,
        sum(unchanged)::bigint as unchanged,
        sum(set_aside)::bigint as set_aside
    from tally_in
    group by file

)

select
    $load_id::bigint as load_id,
    $table as table_name,
    file,
    f.rows_read,
    f.accepted + coalesce(v.accepted, 0) as accepted,
    f.unchanged + coalesce(v.unchanged, 0) as unchanged,
    coalesce(v.repeated, 0) as repeated,
    coalesce(v.revised, 0) as revised,
    coalesce(r.quarantined, 0) as quarantined,
    f.set_aside
from files as f
left join verdicts as v using (file)
left join refusals as r using (file)
order by file
