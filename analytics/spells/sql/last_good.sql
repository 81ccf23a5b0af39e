-- One row per : stretch that ended in a fault found at inspection, with the last day on which it was seen to be good
-- Reads       : silent_end, slot, clean_check
-- Parameters  : none
-- Returns     : stretch_id INTEGER
--             : checked_on DATE
-- Order       : none

select
    s.stretch_id,
    max(c.checked_on) as checked_on
from silent_end as s
inner join slot as p using (slot_no)
inner join clean_check as c
    on
        p.vehicle_id = c.vehicle_id
        and p.component = c.component
        and coalesce(c.position, p.position) = p.position
        and c.checked_on > s.start_on
        and c.checked_on < s.end_fault_on
group by s.stretch_id
