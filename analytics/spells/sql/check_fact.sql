-- One row per : component and series that has it, or may have it, with the time a check takes
-- Reads       : car, components, line
-- Parameters  : none
-- Returns     : component VARCHAR
--             : series VARCHAR
--             : check_minutes DOUBLE, the longest stated of its positions
--             : inspections BIGINT, lines that only inspected it and tell their labour
--             : inspected_minutes DOUBLE, the median labour of these
--             : locations VARCHAR[], the usual places of its positions
-- Order       : component, series

with fleet as (

    select distinct series
    from car

),

declared as (

    select
        c.component,
        f.series,
        max(c.check_minutes) as check_minutes,
        list(distinct c.location order by c.location) filter (where c.location is not null) as locations
    from components as c
    inner join fleet as f on c.series is null or c.series = f.series
    group by c.component, f.series

),

recorded as (

    select distinct
        component,
        series
    from line
    where component is not null

),

-- a component that nobody declared may be on every series
undeclared as (

    select distinct
        r.component,
        f.series
    from recorded as r
    cross join fleet as f
    anti join declared as d on r.component = d.component

),

inspected as (

    select
        component,
        count(*) as inspections,
        median(labour_minutes) as inspected_minutes
    from line
    where action = 'inspected' and labour_minutes > 0
    group by component

)

select
    coalesce(d.component, r.component) as component,
    coalesce(d.series, r.series) as series,
    d.check_minutes,
    coalesce(i.inspections, 0) as inspections,
    i.inspected_minutes,
    coalesce(d.locations, []) as locations
from declared as d
full outer join (select * from recorded union select * from undeclared) as r
    on d.component = r.component and d.series = r.series
left join inspected as i on coalesce(d.component, r.component) = i.component
order by component, series
