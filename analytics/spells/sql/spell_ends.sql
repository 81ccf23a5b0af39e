-- One row per : stretch of a unit's life that has a spell, with the days and orders that its distance turns on
-- Reads       : stretch, spell_fate, stretch_start
-- Parameters  : none
-- Returns     : stretch_id BIGINT
--             : slot_no INTEGER
--             : age_known BOOLEAN
--             : zero_on DATE
--             : began_on DATE, fitting or modification
--             : start_on DATE, watched from here
--             : last_on DATE
--             : lower_on DATE
--             : event INTEGER
--             : fit_order VARCHAR, order that fitted the unit; null where none of ours
--             : fit_fault_on DATE
--             : start_order VARCHAR, order that fitted or modified it
--             : start_fault_on DATE
--             : end_order VARCHAR, null where watching ended
-- Order       : none

select
    s.stretch_id,
    s.slot_no,
    s.age_known,
    s.zero_on,
    s.began_on,
    s.start_on,
    f.last_on,
    f.lower_on,
    f.event,
    b.start_order as fit_order,
    b.start_fault_on as fit_fault_on,
    s.start_order,
    s.start_fault_on,
    case when f.ended then s.end_order end as end_order
from stretch as s
inner join spell_fate as f using (stretch_id)
left join (select * from stretch_start where start_order is not null) as b on s.fit_stretch_id = b.stretch_id
where f.why_none is null
