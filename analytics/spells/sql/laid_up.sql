-- One row per : position of a car that stood in the workshop for long (rule 25)
-- Reads       : slot, lay_up
-- Parameters  : none
-- Returns     : slot_no INTEGER
-- Order       : none

select s.slot_no
from slot as s
semi join lay_up as l using (vehicle_id)
