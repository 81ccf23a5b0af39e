-- One row per : gap from one failure to the next at the same position, or to the end of watching (rule 35)
-- Reads       : fault_event, watch, lay_up
-- Parameters  : none
-- Returns     : component VARCHAR
--             : position VARCHAR
--             : series VARCHAR
--             : vehicle_id VARCHAR
--             : from_on DATE
--             : days BIGINT, without long stays in the workshop
--             : event INTEGER, 1 = the next failure, 0 = watching ended
-- Order       : none

with gaps as (

    select
        slot_no,
        f.component,
        f.position,
        f.series,
        f.vehicle_id,
        f.visit_day as from_on,
        lead(f.visit_day) over (
            partition by slot_no
            order by f.visit_day
        ) as next_on,
        coalesce(next_on, w.end_on) as to_on
    from fault_event as f
    inner join watch as w using (window_no)
    -- a place in line that rule 16 filled in says nothing about coming back to the same position
    where f.used and not f.position_inferred

),

stays as (

    select
        g.slot_no,
        g.from_on,
        sum(greatest(least(g.to_on, l.to_on) - greatest(g.from_on, l.from_on), 0)) as days
    from gaps as g
    inner join lay_up as l using (vehicle_id)
    group by g.slot_no, g.from_on

)

select
    g.component,
    g.position,
    g.series,
    g.vehicle_id,
    g.from_on,
    (g.to_on - g.from_on - coalesce(l.days, 0))::bigint as days,
    (g.next_on is not null)::integer as event
from gaps as g
left join stays as l using (slot_no, from_on)
-- the next failure can fall into a long stay; it is still the next failure
where g.to_on - g.from_on - coalesce(l.days, 0) > 0 or g.next_on is not null
