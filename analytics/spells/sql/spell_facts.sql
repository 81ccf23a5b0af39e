-- One row per : stretch of a unit's life, with what both scales share and what its distance turns on
-- Reads       : stretch, spell_fate, unit_variant
-- Parameters  : none
-- Returns     : stretch_id INTEGER, 1, 2, 3 without a gap
--             : slot_no INTEGER
--             : unit_no BIGINT
--             : stretch_no INTEGER
--             : built_on DATE
--             : whole_car BOOLEAN
--             : told_by VARCHAR, of the unit: order, papers, built or nobody
--             : is_used BOOLEAN, fitted as a used part (rule 19)
--             : why_none VARCHAR, null where it has a spell
--             : variant VARCHAR
--             : part_no VARCHAR
--             : variant_assumed BOOLEAN, the factory's by serial
--             : variant_told_by VARCHAR, fitting, taking out, factory or nobody
--             : cause VARCHAR
--             : event INTEGER
--             : age_known BOOLEAN
--             : position_inferred BOOLEAN
--             : reason_recorded BOOLEAN, true where watching ended
--             : zero_on DATE
--             : began_on DATE, fitting or modification
--             : start_on DATE, watched from here
--             : last_on DATE
--             : lower_on DATE
--             : fit_step INTEGER, repair_no that fitted the unit; below 0 where papers tell, null if none
--             : fit_fault_on DATE
--             : start_step INTEGER, repair_no that fitted or modified it; below 0 where papers tell, null if none
--             : start_fault_on DATE
--             : end_step INTEGER, repair_no that ended it; null where watching ended
-- Order       : none

select
    s.stretch_id,
    s.slot_no,
    s.unit_no::bigint as unit_no,
    s.stretch_no,
    s.built_on,
    s.whole_car,
    s.told_by,
    s.is_used,
    f.why_none,
    coalesce(v.variant, 'unknown') as variant,
    v.part_no,
    coalesce(v.assumed, false) as variant_assumed,
    coalesce(v.variant_told_by, 'nobody') as variant_told_by,
    case
        when not f.ended then 'window end'
        when s.end_reads_as = 'changed in passing' then 'in passing'
        else s.end_reads_as
    end as cause,
    f.event,
    s.age_known,
    s.position_inferred,
    s.reason_recorded or not f.ended as reason_recorded,
    s.zero_on,
    s.began_on,
    s.start_on,
    f.last_on,
    f.lower_on,
    s.fit_step,
    s.fit_fault_on,
    s.start_step,
    s.start_fault_on,
    case when f.ended then s.end_step end as end_step
from stretch as s
inner join spell_fate as f using (stretch_id)
left join unit_variant as v using (stretch_id)
