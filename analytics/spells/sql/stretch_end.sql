-- One row per : event that ends a stretch of a unit's life: its first fault, its renewal, a modification before
-- Reads       : slot_event
-- Parameters  : none
-- Returns     : slot_no INTEGER
--             : unit_no INTEGER
--             : stretch_no INTEGER, 1 = from fitting; the next begins with a modification (rule 9)
--             : event_no INTEGER
--             : modifies BOOLEAN
-- Order       : none

select
    slot_no,
    unit_no,
    (row_number() over (partition by slot_no, unit_no order by event_no))::integer as stretch_no,
    event_no,
    modifies
from slot_event
where not answered and (is_fault or renews or modifies)
