-- One row per : component of a car, with its positions, before blank positions are weighed (rule 15)
-- Reads       : slot_declared, components, line, car
-- Parameters  : none
-- Returns     : window_no INTEGER, 1, 2, 3 by car and component: joins numbers where names would be slow
--             : car_no INTEGER
--             : vehicle_id VARCHAR
--             : component VARCHAR
--             : positions VARCHAR[], by name
-- Order       : none

with recorded as (

    -- a component the table does not name: what was ever recorded in the series; a series without any record has none
    select
        l.series,
        l.component,
        coalesce(list_sort(list(distinct l.position) filter (where l.position is not null)), ['only']) as positions
    from line as l
    anti join components as c using (component)
    where l.component is not null
    group by l.series, l.component

),

of_cars as (

    select
        vehicle_id,
        component,
        positions
    from slot_declared
    union all
    select
        c.vehicle_id,
        r.component,
        r.positions
    from recorded as r
    inner join car as c using (series)

),

component_numbers as (

    select
        component,
        row_number() over (order by component) as component_no
    from of_cars
    group by component

)

select
    row_number() over (order by c.car_no, n.component_no)::integer as window_no,
    c.car_no,
    vehicle_id,
    component,
    p.positions
from of_cars as p
inner join car as c using (vehicle_id)
inner join component_numbers as n using (component)
