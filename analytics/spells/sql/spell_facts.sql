-- One row per : stretch of a unit's life that has a spell, with what both scales share
-- Reads       : stretch, spell_fate, unit_variant
-- Parameters  : none
-- Returns     : stretch_id BIGINT
--             : slot_no INTEGER
--             : unit_no BIGINT
--             : variant VARCHAR
--             : part_no VARCHAR
--             : variant_assumed BOOLEAN, the factory's by serial
--             : variant_told_by VARCHAR, fitting, taking out, factory or nobody
--             : part_origin VARCHAR
--             : cause VARCHAR
--             : age_known BOOLEAN
--             : position_inferred BOOLEAN
--             : reason_recorded BOOLEAN, true where watching ended
--             : start_record VARCHAR
--             : end_record VARCHAR, null where watching ended
-- Order       : none

select
    s.stretch_id,
    s.slot_no,
    s.unit_no,
    v.variant,
    v.part_no,
    v.assumed as variant_assumed,
    v.variant_told_by,
    s.part_origin,
    f.cause,
    s.age_known,
    s.position_inferred,
    s.reason_recorded or not f.ended as reason_recorded,
    s.start_line as start_record,
    case when f.ended then s.end_line end as end_record
from stretch as s
inner join spell_fate as f using (stretch_id)
inner join unit_variant as v using (stretch_id)
where f.why_none is null
