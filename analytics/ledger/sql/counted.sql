-- One row per : file of one feed table
-- Reads       : read_row, decided, refused, set_aside_in
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

values_aside as (

    select
        file,
        count(*) as set_aside
    from set_aside_in
    inner join read_row using (n)
    group by file

),

files as (

    select
        file,
        count(*) as rows_read
    from read_row
    group by file

)

select
    $load_id::bigint as load_id,
    $table as table_name,
    file,
    rows_read,
    coalesce(v.accepted, 0) as accepted,
    coalesce(v.unchanged, 0) as unchanged,
    coalesce(v.repeated, 0) as repeated,
    coalesce(v.revised, 0) as revised,
    coalesce(r.quarantined, 0) as quarantined,
    coalesce(s.set_aside, 0) as set_aside
from files
left join verdicts as v using (file)
left join refusals as r using (file)
left join values_aside as s using (file)
order by file
