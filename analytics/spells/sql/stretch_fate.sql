-- One row per : stretch of a unit's life, cut by the component's window, and choice of its end (rules 21, 23, 31)
-- Reads       : stretch, watch_end, last_good
-- Parameters  : none
-- Returns     : ending INTEGER, as in watch_end; but for 0 only stretches that have a spell
--             : stretch_id INTEGER
--             : zero_on DATE
--             : built_on DATE
--             : start_on DATE
--             : last_on DATE, watched to here
--             : ended BOOLEAN, the record that ended it lies within the window
--             : event INTEGER, 1 = failed
--             : lower_on DATE, of a fault found at inspection: last seen to be good, else the start
--             : why_none VARCHAR, null where there is a spell
-- Order       : none

with windowed as (

    select
        w.ending,
        s.stretch_id,
        s.zero_on,
        s.built_on,
        s.start_on,
        s.told_by,
        s.why_unfit,
        w.end_on as window_end,
        coalesce(s.end_visit_day <= w.end_on, false) as ended,
        case when ended then s.end_fault_on else w.end_on end as last_on,
        (ended and s.end_reads_as in ('failure', 'found at inspection'))::integer as event,
        -- nobody knows when a silent fault began
        case when ended and s.end_reads_as = 'found at inspection' then coalesce(g.checked_on, s.start_on) end
            as lower_on,
        s.why_unfit is null and (last_on > s.start_on or (last_on = s.start_on and event = 1)) as has_spell
    from stretch as s
    inner join watch_end as w using (window_no)
    left join last_good as g using (stretch_id)

)

select
    ending,
    stretch_id,
    zero_on,
    built_on,
    start_on,
    last_on,
    ended,
    event,
    lower_on,
    case
        when has_spell then null
        when why_unfit is not null then why_unfit
        when window_end is null then 'no neutral visit'
        when ended and last_on < start_on then 'ended before the car was watched'
        when last_on < start_on and told_by = 'order' then 'fitted after the last neutral visit'
        when last_on < start_on then 'no neutral visit after the car joined'
        else 'no time watched'
    end as why_none
from windowed
where has_spell or ending = 0
