-- One row per : stretch of a unit's life with what began and what ended it, before any window
-- Reads       : stretch_start, car, slot, watch_window, stretch_end
-- Parameters  : none
-- Returns     : stretch_id BIGINT
--             : slot_no INTEGER
--             : unit_no BIGINT
--             : stretch_no BIGINT
--             : fit_stretch_id BIGINT, the first stretch of the unit
--             : built_on DATE
--             : whole_car BOOLEAN
--             : joined_on DATE
--             : window_no INTEGER, of the component's watching
--             : ours BOOLEAN, an order of ours fitted the unit
--             : is_used BOOLEAN, fitted as a used part (rule 19)
--             : age_known BOOLEAN
--             : zero_on DATE, the unit's age counts from here: fitting, or joining where that is not known
--             : start_on DATE, watched from here
--             : began_on DATE
--             : began_event BIGINT, event_no of the fitting or modification
--             : told_by VARCHAR, of the unit
--             : start_line VARCHAR
--             : start_order VARCHAR
--             : start_fault_on DATE
--             : part_no VARCHAR, told at the fitting or modification
--             : part_origin VARCHAR
--             : removed_part_no VARCHAR, told when the unit was taken out
--             : end_event BIGINT, event_no; null where nothing ended it
--             : end_line VARCHAR
--             : end_order VARCHAR
--             : end_visit_day DATE
--             : end_fault_on DATE
--             : end_reads_as VARCHAR, as in repair; modified
--             : reason_recorded BOOLEAN
--             : joining_fault BOOLEAN, the unit's fault existed before the car joined (rule 21)
--             : position_inferred BOOLEAN
-- Order       : none

with joiners as (

    select distinct
        slot_no,
        unit_no
    from stretch_end
    where is_fault and joining

)

select
    t.stretch_id,
    t.slot_no,
    t.unit_no,
    t.stretch_no,
    u.stretch_id as fit_stretch_id,
    c.built_on,
    s.whole_car,
    c.joined_on,
    w.window_no,
    u.told_by = 'order' as ours,
    coalesce(u.part_origin = 'used', false) as is_used,
    u.told_by <> 'nobody' and not is_used as age_known,
    u.began_on as zero_on,
    greatest(t.began_on, c.joined_on) as start_on,
    t.began_on,
    t.began_event,
    u.told_by,
    t.start_line,
    t.start_order,
    t.start_fault_on,
    t.part_no,
    coalesce(u.part_origin, 'unknown') as part_origin,
    e.removed_part_no,
    e.event_no as end_event,
    e.end_line,
    e.end_order,
    e.visit_day as end_visit_day,
    e.fault_on as end_fault_on,
    case when e.modifies then 'modified' else e.reads_as end as end_reads_as,
    coalesce(e.reason_recorded, true) as reason_recorded,
    j.slot_no is not null and u.told_by <> 'order' as joining_fault,
    t.position_inferred or coalesce(e.position_inferred, false) as position_inferred
from stretch_start as t
-- the stretches of a unit follow one another
inner join stretch_start as u on t.stretch_id - t.stretch_no + 1 = u.stretch_id
inner join slot as s on t.slot_no = s.slot_no
inner join car as c using (vehicle_id)
left join watch_window as w using (vehicle_id, component)
left join stretch_end as e
    on t.slot_no = e.slot_no and t.unit_no = e.unit_no and t.stretch_no = e.stretch_no
left join joiners as j on t.slot_no = j.slot_no and t.unit_no = j.unit_no
