-- One row per : stretch of a unit's life, from fitting, from joining or from a modification on
-- Reads       : fitting, slot, watch_window, slot_event, stretch_end
-- Parameters  : none
-- Returns     : stretch_id INTEGER, 1, 2, 3 by position, unit and stretch
--             : slot_no INTEGER
--             : window_no INTEGER
--             : unit_no INTEGER, 1 = first known
--             : stretch_no INTEGER, 1, 2, 3 of its unit, without a gap
--             : told_by VARCHAR, order, papers, built (in care since new) or nobody
--             : began_on DATE, hand-over, joining or told day
--             : began_event INTEGER, event_no of the fitting or modification
--             : start_step INTEGER, step_no of the fitting or modification, below 0 where papers tell; null if none
--             : start_fault_on DATE, day the car came in for it
--             : is_used BOOLEAN, fitted as a used part (rule 19)
--             : position_inferred BOOLEAN
-- Order       : none

with last_papers as (

    select
        slot_no,
        max(fitted_on) as fitted_on,
        first(step_no order by fitted_on desc, part_no) as step_no
    from fitting
    where fate = 'used' and fitted_on <= joined_on
    group by slot_no

),

starts as (

    select
        s.slot_no,
        s.window_no,
        1 as unit_no,
        1 as stretch_no,
        case when p.fitted_on is not null then 'papers' when w.since_new then 'built' else 'nobody' end as told_by,
        coalesce(p.fitted_on, case when w.since_new then least(w.built_on, w.joined_on) end, w.joined_on) as began_on,
        null::integer as began_event,
        p.step_no as start_step,
        null as start_fault_on,
        false as is_used,
        false as position_inferred
    from slot as s
    inner join watch_window as w using (window_no)
    left join last_papers as p using (slot_no)
    union all
    select
        e.slot_no,
        s.window_no,
        case when e.renews then e.unit_no + 1 else e.unit_no end as unit_no,
        case when e.renews then 1 else d.stretch_no + 1 end as stretch_no,
        case when e.from_papers then 'papers' else 'order' end as told_by,
        e.closed_on as began_on,
        e.event_no as began_event,
        e.start_step,
        e.fault_on as start_fault_on,
        e.is_used,
        e.position_inferred
    from slot_event as e
    inner join slot as s using (slot_no)
    left join stretch_end as d
        on e.modifies and d.modifies and e.slot_no = d.slot_no and e.event_no = d.event_no
    where e.renews or d.event_no is not null

)

select
    (row_number() over (order by slot_no, unit_no, stretch_no))::integer as stretch_id,
    *
from starts
