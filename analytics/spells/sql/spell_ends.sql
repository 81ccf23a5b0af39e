-- One row per : stretch of a unit's life that has a spell, with the days and orders that its distance turns on
-- Reads       : stretch, spell_fate, car
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR
--             : unit_no BIGINT
--             : stretch_no BIGINT
--             : age_known BOOLEAN
--             : zero_on DATE
--             : began_on DATE, fitting or modification
--             : start_on DATE, watched from here
--             : last_on DATE
--             : lower_on DATE
--             : event INTEGER
--             : joined_on DATE
--             : first_visit_day DATE
--             : trusted BOOLEAN, the odometer shows the total distance (rule 30)
--             : fit_order VARCHAR, order that fitted the unit; null where none of ours
--             : fit_fault_on DATE
--             : start_order VARCHAR, order that fitted or modified it
--             : start_fault_on DATE
--             : end_order VARCHAR, null where watching ended
-- Order       : vehicle_id, component, position, unit_no, stretch_no

with fitted_by as (

    select
        vehicle_id,
        component,
        position,
        unit_no,
        start_order as fit_order,
        start_fault_on as fit_fault_on
    from stretch
    where stretch_no = 1

)

select
    s.vehicle_id,
    s.component,
    s.position,
    s.unit_no,
    s.stretch_no,
    s.age_known,
    s.zero_on,
    s.began_on,
    s.start_on,
    f.last_on,
    f.lower_on,
    f.event,
    c.joined_on,
    c.first_visit_day,
    c.since_new or coalesce(c.odometer_digits >= 6, false) as trusted,
    b.fit_order,
    b.fit_fault_on,
    s.start_order,
    s.start_fault_on,
    case when f.ended then s.end_order end as end_order
from stretch as s
inner join spell_fate as f using (vehicle_id, component, position, unit_no, stretch_no)
inner join car as c using (vehicle_id)
inner join fitted_by as b using (vehicle_id, component, position, unit_no)
where f.why_none is null
order by s.vehicle_id, s.component, s.position, s.unit_no, s.stretch_no
