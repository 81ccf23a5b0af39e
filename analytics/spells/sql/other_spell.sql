-- One row per : piece of a unit's life by age, as the tables stand
-- Reads       : age_spell, stretch
-- Parameters  : none
-- Returns     : stretch_id BIGINT
--             : slot_no INTEGER
--             : unit_no BIGINT
--             : entry BIGINT, days
--             : exit BIGINT, days
--             : exit_lower BIGINT, days; null but for a fault found at inspection
--             : event BIGINT
--             : age_known BOOLEAN
--             : vehicle_age BIGINT, days; null where not known
-- Order       : none

select
    s.stretch_id,
    s.slot_no,
    s.unit_no,
    a.entry,
    a.exit,
    a.exit_lower,
    a.event::bigint as event,
    s.age_known,
    a.vehicle_age
from age_spell as a
inner join stretch as s using (stretch_id)
