-- One row per : stretch of a unit's life, cut by the component's window, with why it gives no spell (rules 21, 23, 31)
-- Reads       : stretch, watch_window, clean_check, slot
-- Parameters  : none
-- Returns     : stretch_id BIGINT
--             : zero_on DATE
--             : built_on DATE
--             : start_on DATE
--             : last_on DATE, watched to here
--             : ended BOOLEAN, the record that ended it lies within the window
--             : event INTEGER, 1 = failed
--             : cause VARCHAR, how the spell ended
--             : lower_on DATE, of a fault found at inspection: last seen to be good, else the start
--             : why_none VARCHAR, null where there is a spell
--             : start_line VARCHAR
-- Order       : none

with windowed as (

    select
        s.stretch_id,
        s.slot_no,
        s.zero_on,
        s.built_on,
        s.start_on,
        s.joined_on,
        s.whole_car,
        s.is_used,
        s.joining_fault,
        s.told_by,
        s.start_line,
        w.end_on as window_end,
        coalesce(s.end_visit_day <= w.end_on, false) as ended,
        case when ended then s.end_fault_on else w.end_on end as last_on,
        case when ended then s.end_reads_as else 'window end' end as read_cause,
        (read_cause in ('failure', 'found at inspection'))::integer as event
    from stretch as s
    left join watch_window as w using (window_no)

),

last_good as (

    select
        s.stretch_id,
        max(c.checked_on) as checked_on
    from windowed as s
    inner join slot as p using (slot_no)
    inner join clean_check as c
        on
            p.vehicle_id = c.vehicle_id
            and p.component = c.component
            and coalesce(c.position, p.position) = p.position
            and c.checked_on > s.start_on
            and c.checked_on < s.last_on
    where s.read_cause = 'found at inspection'
    group by s.stretch_id

)

select
    s.stretch_id,
    s.zero_on,
    s.built_on,
    s.start_on,
    s.last_on,
    s.ended,
    s.event,
    case when s.read_cause = 'changed in passing' then 'in passing' else s.read_cause end as cause,
    case when s.read_cause = 'found at inspection' then coalesce(g.checked_on, s.start_on) end as lower_on,
    case
        when s.whole_car then 'position too often blank'
        when s.joined_on is null then 'car never seen here'
        when s.is_used then 'used part fitted, its age is not known'
        when s.joining_fault then 'joining fault'
        when s.window_end is null then 'no neutral visit'
        when s.ended and s.last_on < s.start_on then 'ended before the car was watched'
        when s.last_on < s.start_on and s.told_by = 'order' then 'fitted after the last neutral visit'
        when s.last_on < s.start_on then 'no neutral visit after the car joined'
        when s.last_on = s.start_on and s.event = 0 then 'no time watched'
    end as why_none,
    s.start_line
from windowed as s
left join last_good as g using (stretch_id)
