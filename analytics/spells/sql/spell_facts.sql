-- One row per : stretch of a unit's life that has a spell, with what both scales share
-- Reads       : stretch, spell_fate, unit_variant
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR
--             : unit_no BIGINT
--             : stretch_no BIGINT
--             : series VARCHAR
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
-- Order       : vehicle_id, component, position, unit_no, stretch_no

select
    s.vehicle_id,
    s.component,
    s.position,
    s.unit_no,
    s.stretch_no,
    s.series,
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
inner join spell_fate as f using (vehicle_id, component, position, unit_no, stretch_no)
inner join unit_variant as v using (vehicle_id, component, position, unit_no, stretch_no)
where f.why_none is null
order by s.vehicle_id, s.component, s.position, s.unit_no, s.stretch_no
