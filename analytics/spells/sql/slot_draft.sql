-- One row per : position of a component on a car, before blank positions are weighed (rule 15)
-- Reads       : slot_declared, components, line, car
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR
--             : position_no BIGINT, 1, 2, 3 in an order of the car's own
--             : positions BIGINT, how many the car has
-- Order       : none

with recorded as (

    -- a component the table does not name: what was ever recorded in the series; a series without any record has none
    select
        l.series,
        l.component,
        unnest(coalesce(list_sort(list(distinct l.position) filter (where l.position is not null)), ['only'])) as position
    from line as l
    anti join components as c using (component)
    where l.component is not null
    group by l.series, l.component

),

slots as (

    select
        vehicle_id,
        component,
        position
    from slot_declared
    union all
    select
        c.vehicle_id,
        r.component,
        r.position
    from recorded as r
    inner join car as c using (series)

)

select
    vehicle_id,
    component,
    position,
    -- where nothing tells them apart, no side is always the first one (rule 7: by name and car, not by chance)
    row_number() over (
        partition by vehicle_id, component
        order by left(md5(concat_ws('|', vehicle_id, component, position)), 12), position
    ) as position_no,
    count(*) over (partition by vehicle_id, component) as positions
from slots
