-- One row per : fault counted: a visit, component and position (rules 8, 10, 11, 21, 23, 35)
-- Reads       : slot_event, stretch, spell_fate, repair, slot, car, watch_window
-- Parameters  : none
-- Returns     : fault_record VARCHAR
--             : vehicle_id VARCHAR
--             : series VARCHAR
--             : built_on DATE
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

with faults as (

    select
        o.vehicle_id,
        o.component,
        o.position,
        e.visit_day,
        e.fault_on,
        e.end_line as fault_record,
        e.location,
        e.reads_as,
        e.joining and not s.ours as existed,
        e.position_inferred,
        coalesce(f.ended and f.event = 1 and f.why_none is null, false) as in_spell,
        e.event_no
    from slot_event as e
    inner join slot as o using (slot_no)
    inner join stretch as s on e.slot_no = s.slot_no and e.unit_no = s.unit_no and s.stretch_no = 1
    left join stretch as x on e.slot_no = x.slot_no and e.event_no = x.end_event
    left join spell_fate as f on x.stretch_id = f.stretch_id
    -- a fault that was found and left is no second one when it is mended
    where e.is_fault and not e.open_fault
    union all by name
    select
        r.vehicle_id,
        r.component,
        r.position,
        r.visit_day,
        r.fault_on,
        r.line_id as fault_record,
        r.location,
        r.reads_as,
        r.joining and not r.ours as existed,
        r.position_inferred,
        false as in_spell,
        list_position(['failure', 'found at inspection', 'consequence'], r.reads_as) as event_no
    from repair as r
    where r.reads_as in ('failure', 'found at inspection', 'consequence') and coalesce(r.whole_car, true)

)

select
    f.fault_record,
    f.vehicle_id,
    c.series,
    c.built_on,
    f.visit_day,
    f.component,
    f.position,
    f.location,
    f.reads_as,
    case
        when w.vehicle_id is null then 'component not on this car'
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
left join watch_window as w on f.vehicle_id = w.vehicle_id and f.component = w.component
qualify row_number() over (
    partition by f.vehicle_id, f.component, f.position, f.visit_day order by f.position_inferred, f.in_spell desc, f.event_no, f.fault_record
) = 1
