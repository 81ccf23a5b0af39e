-- One row per : event that ends a stretch of a unit's life: its first fault, its renewal, a modification before
-- Reads       : slot_event
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR
--             : event_no BIGINT
--             : from_papers BOOLEAN
--             : visit_day DATE
--             : fault_on DATE
--             : closed_on DATE
--             : reads_as VARCHAR
--             : reason_recorded BOOLEAN
--             : does BOOLEAN
--             : renews BOOLEAN
--             : joining BOOLEAN
--             : end_line VARCHAR
--             : end_order VARCHAR
--             : start_line VARCHAR
--             : start_order VARCHAR
--             : part_no VARCHAR
--             : removed_part_no VARCHAR
--             : part_origin VARCHAR
--             : location VARCHAR
--             : position_inferred BOOLEAN
--             : is_fault BOOLEAN
--             : modifies BOOLEAN
--             : unit_no BIGINT
--             : answered BOOLEAN
--             : open_fault BOOLEAN
--             : stretch_no BIGINT, 1 = from fitting; the next begins with a modification (rule 9)
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
