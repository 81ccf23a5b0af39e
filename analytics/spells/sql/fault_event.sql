-- One row per : fault counted: a visit, component and position (rules 8, 10, 11, 21, 23, 35)
-- Reads       : stretch_start, stretch, spell_fate, slot_event, repair, car, watch_window
-- Parameters  : none
-- Returns     : slot_no INTEGER, null where the car has no such position
--             : window_no INTEGER, null where the component is not on the car
--             : fault_record VARCHAR
--             : vehicle_id VARCHAR
--             : series VARCHAR
--             : visit_day DATE
--             : component VARCHAR
--             : position VARCHAR
--             : location VARCHAR
--             : reads_as VARCHAR
--             : why_unused VARCHAR, null where used
--             : used BOOLEAN, within the component's window, and not there before the car joined
--             : in_spell BOOLEAN, it ended a spell as an event
--             : position_inferred BOOLEAN, rule 16 filled the position in
-- Order       : none

with ours as (

    select
        slot_no,
        unit_no
    from stretch_start
    where told_by = 'order' and stretch_no = 1

),

ends as (

    select
        s.slot_no,
        s.end_event as event_no
    from stretch as s
    inner join spell_fate as f using (stretch_id)
    where f.ended and f.event = 1 and f.why_none is null

),

faults as (

    select
        r.* exclude (visit_day, fault_on, location, reads_as, position_inferred),
        e.visit_day,
        e.fault_on,
        p.location,
        e.reads_as,
        e.joining and o.slot_no is null as existed,
        e.position_inferred,
        x.slot_no is not null as in_spell,
        e.event_no
    from slot_event as e
    inner join repair as r on e.end_step = r.repair_no
    left join repair as p on e.place_step = p.repair_no
    left join ours as o on e.slot_no = o.slot_no and e.unit_no = o.unit_no
    left join ends as x on e.slot_no = x.slot_no and e.event_no = x.event_no
    -- a fault that was found and left is no second one when it is mended
    where e.is_fault and not e.open_fault
    union all by name
    select
        *,
        joining and not ours as existed,
        false as in_spell,
        list_position(['failure', 'found at inspection', 'consequence'], reads_as) as event_no
    from repair
    where reads_as in ('failure', 'found at inspection', 'consequence') and coalesce(whole_car, true)

)

select
    f.slot_no,
    f.window_no,
    f.line_id as fault_record,
    f.vehicle_id,
    c.series,
    f.visit_day,
    f.component,
    f.position,
    f.location,
    f.reads_as,
    case
        when w.window_no is null then 'component not on this car'
        when f.existed then 'joining fault'
        when f.fault_on < w.joined_on then 'before the car was watched'
        when w.end_on is null then 'no neutral visit'
        when f.visit_day > w.end_on then 'after the last neutral visit'
    end as why_unused,
    why_unused is null as used,
    f.in_spell,
    f.position_inferred
from faults as f
inner join car as c on f.vehicle_id = c.vehicle_id
left join watch_window as w on f.window_no = w.window_no
qualify row_number() over (
    -- what is not on the car has no number
    partition by
        f.slot_no, f.visit_day, case when f.slot_no is null then (f.vehicle_id, f.component, f.position) end
    order by f.position_inferred, f.in_spell desc, f.event_no, f.line_id
) = 1
