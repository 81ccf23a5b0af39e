-- One row per : day on which a unit was renewed at a position (rules 9, 16, 17)
-- Reads       : repair, slot
-- Parameters  : none
-- Returns     : component VARCHAR
--             : vehicle_id VARCHAR
--             : position VARCHAR
--             : day DATE, of the hand-over
-- Order       : component, vehicle_id, position, day

select distinct
    s.component,
    s.vehicle_id,
    s.position,
    r.order_to as day
from repair as r
inner join slot as s using (slot_no)
where r.has_slot and r.renews
order by s.component, s.vehicle_id, s.position, day
