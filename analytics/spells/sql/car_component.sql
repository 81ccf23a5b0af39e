-- One row per : component of a car, with its positions, before blank positions are weighed (rule 15)
-- Reads       : component_layout, car
-- Parameters  : none
-- Returns     : window_no INTEGER, 1, 2, 3 by car and component: joins numbers where names would be slow
--             : car_no INTEGER
--             : vehicle_id VARCHAR
--             : component VARCHAR
--             : declared BOOLEAN, the table of components names it
--             : serial_unknown BOOLEAN, a range of serials could not be checked
--             : layout_no INTEGER
--             : positions BIGINT, how many it has
--             : only_position VARCHAR, null where it has several
-- Order       : none

with kinds as (

    select
        *,
        row_number() over (order by component, series, vehicle_id) as kind_no,
        dense_rank() over (order by component) as component_no
    from component_layout

),

of_cars as (

    select
        c.car_no,
        k.kind_no,
        k.component_no
    from kinds as k
    inner join car as c using (series)
    union all
    select
        c.car_no,
        k.kind_no,
        k.component_no
    from kinds as k
    inner join car as c using (vehicle_id)

),

-- numbers are put in order without the names
numbered as (

    select
        car_no,
        kind_no,
        row_number() over (order by car_no, component_no)::integer as window_no
    from of_cars

)

select
    n.window_no,
    n.car_no,
    c.vehicle_id,
    k.component,
    k.declared,
    k.serial_unknown,
    k.layout_no,
    len(k.positions) as positions,
    case when len(k.positions) = 1 then k.positions[1] end as only_position
from numbered as n
inner join kinds as k using (kind_no)
inner join car as c using (car_no)
