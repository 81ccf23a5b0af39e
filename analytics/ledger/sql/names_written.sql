-- One row per : spelling of a component, position or place, within a component for positions
-- Reads       : repairs, components, parts, locations, fitted, limits, opinions
-- Parameters  : as_of DATE, last day whose records count
-- Returns     : kind VARCHAR, component, position or location
--             : within VARCHAR, the component as written, of positions; else empty
--             : written VARCHAR
--             : lines BIGINT, repair lines that have it
--             : first_on DATE, first day it was written
--             : example VARCHAR, one line that has it
--             : declared BIGINT, rows of tables other than records that have it
-- Order       : kind, within, written

with recorded as (

    select
        component,
        position,
        location,
        count(*) as lines,
        min(closed_on) as first_on,
        min(line_id) as example,
        0 as declared
    from repairs
    where closed_on <= $as_of
    group by all

),

declared as (

    select
        component,
        position,
        location,
        1 as declared
    from components
    union all by name
    select
        component,
        position,
        1 as declared
    from parts
    union all by name
    select
        unnest([location, parent]) as location,
        unnest([1, 0]) as declared
    from locations
    union all by name
    select
        component,
        position,
        0 as declared
    from fitted
    where fitted_from <= $as_of
    union all by name
    select
        nullif(trim(name), '') as component,
        0 as declared
    from (
        select component as name from limits union all select component from opinions
        union all -- several stand in one field
        select unnest(string_split(may_harm, ';')) as name from components
    )

),

used as (

    from recorded
    union all by name
    from declared

),

named as (

    select
        unnest(['component', 'position', 'location']) as kind,
        unnest(['', coalesce(component, ''), '']) as within,
        unnest([component, position, location]) as written,
        lines,
        first_on,
        example,
        declared
    from used

)

select
    kind,
    within,
    written,
    coalesce(sum(lines), 0)::bigint as lines,
    min(first_on) as first_on,
    min(example) as example,
    sum(declared)::bigint as declared
from named
where written is not null
group by kind, within, written
order by kind, within, written
