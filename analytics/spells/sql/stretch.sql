-- One row per : stretch of a unit's life with what began and what ended it, before any window
-- Reads       : stretch_start, car, slot, watch_window, stretch_end
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR
--             : unit_no BIGINT
--             : stretch_no BIGINT
--             : series VARCHAR
--             : built_on DATE
--             : whole_car BOOLEAN
--             : joined_on DATE
--             : window_end DATE, end of watching for the component
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
-- Order       : vehicle_id, component, position, unit_no, stretch_no

with told as (

    select
        *,
        first_value(told_by) over unit as unit_told_by,
        first_value(began_on) over unit as unit_began_on,
        first_value(coalesce(part_origin, 'unknown')) over unit as unit_origin
    from stretch_start
    window unit as (
        partition by vehicle_id, component, position, unit_no
        order by stretch_no
    )

)

select
    t.vehicle_id,
    t.component,
    t.position,
    t.unit_no,
    t.stretch_no,
    c.series,
    c.built_on,
    s.whole_car,
    c.joined_on,
    w.end_on as window_end,
    t.unit_told_by = 'order' as ours,
    t.unit_origin = 'used' as is_used,
    t.unit_told_by <> 'nobody' and not is_used as age_known,
    t.unit_began_on as zero_on,
    greatest(t.began_on, c.joined_on) as start_on,
    t.began_on,
    t.began_event,
    t.unit_told_by as told_by,
    t.start_line,
    t.start_order,
    t.start_fault_on,
    t.part_no,
    t.unit_origin as part_origin,
    e.removed_part_no,
    e.event_no as end_event,
    e.end_line,
    e.end_order,
    e.visit_day as end_visit_day,
    e.fault_on as end_fault_on,
    case when e.modifies then 'modified' else e.reads_as end as end_reads_as,
    coalesce(e.reason_recorded, true) as reason_recorded,
    coalesce(bool_or(e.is_fault and e.joining and t.unit_told_by <> 'order') over unit, false) as joining_fault,
    t.position_inferred or coalesce(e.position_inferred, false) as position_inferred
from told as t
inner join car as c using (vehicle_id)
inner join slot as s using (vehicle_id, component, position)
left join watch_window as w using (vehicle_id, component)
left join stretch_end as e using (vehicle_id, component, position, unit_no, stretch_no)
window unit as (partition by t.vehicle_id, t.component, t.position, t.unit_no)
order by t.vehicle_id, t.component, t.position, t.unit_no, t.stretch_no
