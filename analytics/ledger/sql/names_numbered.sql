-- One row per : part number or car, as written
-- Reads       : repairs, parts, sales, stock, fitted, vehicles
-- Parameters  : as_of DATE, last day whose records count
-- Returns     : kind VARCHAR, part or vehicle
--             : within VARCHAR, empty
--             : written VARCHAR
--             : lines BIGINT, repair lines that have it
--             : first_on DATE, first day it was written
--             : example VARCHAR, one line that has it
--             : declared BIGINT, rows of parts that have it
-- Order       : kind, written

with named as (

    select
        unnest(['part', 'part', 'part', 'vehicle']) as kind,
        unnest([part_no, removed_part_no, fitted_instead_of, vehicle_id]) as written,
        1 as lines,
        closed_on as first_on,
        line_id as example,
        0 as declared
    from repairs
    where closed_on <= $as_of
    union all by name
    select
        'part' as kind,
        part_no as written,
        1 as declared
    from parts
    union all by name
    select
        'part' as kind,
        superseded_by as written,
        0 as declared
    from parts
    union all by name
    -- several numbers stand in one field
    select
        'part' as kind,
        trim(unnest(string_split(looks_like, ';'))) as written,
        0 as declared
    from parts
    union all by name
    select
        'part' as kind,
        part_no as written,
        0 as declared
    from (select part_no from sales union all select part_no from stock union all select part_no from fitted)
    union all by name
    select
        'vehicle' as kind,
        vehicle_id as written,
        0 as declared
    from vehicles

)

select
    kind,
    '' as within,
    written,
    coalesce(sum(lines), 0)::bigint as lines,
    min(first_on) as first_on,
    min(example) as example,
    sum(declared)::bigint as declared
from named
where written <> ''
group by kind, written
order by kind, written
