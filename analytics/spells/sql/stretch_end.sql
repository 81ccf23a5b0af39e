-- One row per : event that ends a stretch of a unit's life: its first fault, its renewal, a modification before
-- Reads       : slot_event
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR
--             : unit_no BIGINT
--             : stretch_no BIGINT, 1 = from fitting; the next begins with a modification (rule 9)
--             : event_no BIGINT
--             : and the other columns of slot_event
-- Order       : vehicle_id, component, position, event_no

select
    *,
    row_number() over (
        partition by vehicle_id, component, position, unit_no
        order by event_no
    ) as stretch_no
from slot_event
where not answered and (is_fault or renews or modifies)
order by vehicle_id, component, position, event_no
