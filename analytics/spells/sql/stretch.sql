-- One row per : stretch of a unit's life with what began and what ended it, before any window
-- Reads       : stretch_start, watch_window, stretch_end, slot_event
-- Parameters  : none
-- Returns     : stretch_id INTEGER
--             : slot_no INTEGER
--             : window_no INTEGER, of the component's watching
--             : unit_no INTEGER
--             : stretch_no INTEGER
--             : built_on DATE
--             : whole_car BOOLEAN
--             : told_by VARCHAR, of the unit
--             : is_used BOOLEAN, the unit was fitted as a used part (rule 19)
--             : age_known BOOLEAN
--             : zero_on DATE, the unit's age counts from here: fitting, or joining where that is not known
--             : fit_step INTEGER, step_no that fitted the unit, below 0 where papers tell
--             : fit_fault_on DATE, day the car came in for it
--             : start_on DATE, watched from here
--             : began_on DATE
--             : began_event INTEGER, event_no of the fitting or modification
--             : start_step INTEGER, step_no of the fitting or modification, below 0 where papers tell
--             : start_fault_on DATE
--             : end_event INTEGER, event_no; null where nothing ended it
--             : end_step INTEGER, step_no that tells why
--             : removed_step INTEGER, step_no that tells what was taken out
--             : end_visit_day DATE
--             : end_fault_on DATE
--             : end_reads_as VARCHAR, as in repair; modified
--             : reason_recorded BOOLEAN
--             : position_inferred BOOLEAN
--             : why_unfit VARCHAR, gives no spell whatever the window; null where it may
-- Order       : none

with joiners as (

    select distinct
        slot_no,
        unit_no
    from slot_event
    where is_fault and joining and not answered

),

ends as (

    select
        d.stretch_no,
        e.*
    from slot_event as e
    inner join stretch_end as d using (slot_no, event_no)

),

-- what began a unit that was modified, for all its stretches
modified as (

    select u.*
    from stretch_start as u
    semi join (select * from stretch_end where modifies) as m using (slot_no, unit_no)
    where u.stretch_no = 1

)

select
    t.stretch_id,
    t.slot_no,
    t.window_no,
    t.unit_no,
    t.stretch_no,
    w.built_on,
    w.whole_car,
    coalesce(u.told_by, t.told_by) as told_by,
    coalesce(u.is_used, t.is_used) as is_used,
    coalesce(u.told_by, t.told_by) <> 'nobody' and not coalesce(u.is_used, t.is_used) as age_known,
    coalesce(u.began_on, t.began_on) as zero_on,
    case when u.slot_no is null then t.start_step else u.start_step end as fit_step,
    case when u.slot_no is null then t.start_fault_on else u.start_fault_on end as fit_fault_on,
    greatest(t.began_on, w.joined_on) as start_on,
    t.began_on,
    t.began_event,
    t.start_step,
    t.start_fault_on,
    e.event_no as end_event,
    e.end_step,
    e.removed_step,
    e.visit_day as end_visit_day,
    e.fault_on as end_fault_on,
    case when e.modifies then 'modified' else e.reads_as end as end_reads_as,
    coalesce(e.reason_recorded, true) as reason_recorded,
    t.position_inferred or coalesce(e.position_inferred, false) as position_inferred,
    case
        when w.whole_car then 'position too often blank'
        when w.joined_on is null then 'car never seen here'
        when coalesce(u.is_used, t.is_used) then 'used part fitted, its age is not known'
        when j.slot_no is not null and coalesce(u.told_by, t.told_by) <> 'order' then 'joining fault'
    end as why_unfit
from stretch_start as t
inner join watch_window as w using (window_no)
left join modified as u on t.slot_no = u.slot_no and t.unit_no = u.unit_no
left join joiners as j on t.slot_no = j.slot_no and t.unit_no = j.unit_no
left join ends as e on t.slot_no = e.slot_no and t.unit_no = e.unit_no and t.stretch_no = e.stretch_no
