-- One row per : repair that left the unit in its place, with the unit's age when it was handed over (rule 37)
-- Reads       : watched_repair, slot_step, slot_event, stretch_start, car
-- Parameters  : none
-- Returns     : repair_no INTEGER
--             : age BIGINT, days; since the car joined where the unit's age is not known
--             : age_known BOOLEAN
--             : joined_age BIGINT, days of the car when it joined, for a unit of unknown age; null where not known
--             : failed_at BIGINT[], ages on the same clock at which the unit has failed so far; null if never
-- Order       : repair_no

with units as (

    select
        w.repair_no,
        w.handed_on,
        e.slot_no,
        e.unit_no,
        e.event_no,
        u.began_on,
        u.told_by <> 'nobody' and not u.is_used as age_known,
        c.built_on
    from watched_repair as w
    inner join slot_step as p using (repair_no)
    inner join slot_event as e on p.slot_no = e.slot_no and p.event_no = e.event_no
    inner join stretch_start as u on e.slot_no = u.slot_no and e.unit_no = u.unit_no and u.stretch_no = 1
    inner join car as c using (vehicle_id)
    where not e.renews

),

faults as (

    select
        u.repair_no,
        list(greatest(f.fault_on - u.began_on, 0)::bigint order by f.event_no) as failed_at
    from units as u
    inner join slot_event as f on u.slot_no = f.slot_no and u.unit_no = f.unit_no and u.event_no >= f.event_no
    where f.reads_as in ('failure', 'found at inspection')
    group by u.repair_no

)

select
    u.repair_no,
    greatest(u.handed_on - u.began_on, 0) as age,
    u.age_known,
    case when not u.age_known then greatest(u.began_on - u.built_on, 0) end as joined_age,
    case when not u.age_known then f.failed_at end as failed_at
from units as u
left join faults as f using (repair_no)
order by u.repair_no
