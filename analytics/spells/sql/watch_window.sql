-- One row per : component of a car, with the day its watching ends (rules 22, 23)
-- Reads       : car_place, car, visit, not_neutral
-- Parameters  : none
-- Returns     : window_no INTEGER
--             : vehicle_id VARCHAR
--             : component VARCHAR
--             : whole_car BOOLEAN
--             : built_on DATE
--             : since_new BOOLEAN
--             : joined_on DATE
--             : end_on DATE, last neutral visit while the car was in care; null if none
--             : last_any DATE, last visit of any kind while the car was in care
-- Order       : none

with in_care as (

    select
        v.visit_id,
        v.vehicle_id,
        v.day
    from visit as v
    inner join car as c using (vehicle_id)
    where c.left_on is null or v.day <= c.left_on

),

-- neutral but for the components named in not_neutral
open as (

    select i.*
    from in_care as i
    anti join (select visit_id from not_neutral where component is null) as n using (visit_id)

),

end_of_car as (

    select
        vehicle_id,
        max(day) as end_on
    from open
    group by vehicle_id

),

-- only where the car's last visit is not neutral for the component must an earlier one be looked for
excepted as (

    select distinct
        n.vehicle_id,
        n.component
    from not_neutral as n
    inner join open as o using (visit_id)
    inner join end_of_car as a on o.vehicle_id = a.vehicle_id and o.day = a.end_on
    where n.component is not null

),

end_of_excepted as (

    select
        e.vehicle_id,
        e.component,
        max(o.day) as end_on
    from excepted as e
    inner join open as o using (vehicle_id)
    anti join not_neutral as n
        on o.visit_id = n.visit_id and e.component = n.component
    group by e.vehicle_id, e.component

)

select
    s.window_no,
    s.vehicle_id,
    s.component,
    s.whole_car,
    c.built_on,
    c.since_new,
    c.joined_on,
    case when x.vehicle_id is null then a.end_on else e.end_on end as end_on,
    l.last_any
from car_place as s
inner join car as c using (vehicle_id)
left join excepted as x using (vehicle_id, component)
left join end_of_excepted as e using (vehicle_id, component)
left join end_of_car as a using (vehicle_id)
left join (select vehicle_id, max(day) as last_any from in_care group by vehicle_id) as l using (vehicle_id)
