-- One row per : repair that left the unit in its place, with the unit's age when it was handed over (rule 37)
-- Reads       : watched_repair, slot_step, slot_event, stretch_start, car
-- Parameters  : none
-- Returns     : repair_no INTEGER
--             : age BIGINT, days; since the car joined where the unit's age is not known
--             : age_known BOOLEAN
--             : joined_age BIGINT, days of the car when it joined, for a unit of unknown age; null where not known
-- Order       : repair_no

select
    w.repair_no,
    greatest(w.handed_on - u.began_on, 0) as age,
    u.told_by <> 'nobody' and coalesce(u.part_origin <> 'used', true) as age_known,
    case when not age_known then greatest(u.began_on - c.built_on, 0) end as joined_age
from watched_repair as w
inner join slot_step as p using (repair_no)
inner join slot_event as e on p.slot_no = e.slot_no and p.event_no = e.event_no
inner join stretch_start as u on e.slot_no = u.slot_no and e.unit_no = u.unit_no and u.stretch_no = 1
inner join car as c using (vehicle_id)
where not e.renews
order by w.repair_no
