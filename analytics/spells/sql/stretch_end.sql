-- One row per : event that ends a stretch of a unit's life: its first fault, its renewal, a modification before
-- Reads       : slot_event
-- Parameters  : none
-- Returns     : slot_no INTEGER
--             : event_no BIGINT
--             : from_papers BOOLEAN
--             : visit_day DATE
--             : fault_on DATE
--             : closed_on DATE
--             : does BOOLEAN
--             : renews BOOLEAN
--             : joining BOOLEAN
--             : position_inferred BOOLEAN
--             : removed_part_no VARCHAR
--             : location VARCHAR
--             : reads_as VARCHAR
--             : reason_recorded BOOLEAN
--             : end_line VARCHAR
--             : end_order VARCHAR
--             : start_line VARCHAR
--             : start_order VARCHAR
--             : part_no VARCHAR
--             : part_origin VARCHAR
--             : is_fault BOOLEAN
--             : modifies BOOLEAN
--             : unit_no BIGINT
--             : answered BOOLEAN
--             : open_fault BOOLEAN
--             : stretch_no BIGINT, 1 = from fitting; the next begins with a modification (rule 9)
-- Order       : none

select
    *,
    row_number() over (
        partition by slot_no, unit_no
        order by event_no
    ) as stretch_no
from slot_event
where not answered and (is_fault or renews or modifies)
