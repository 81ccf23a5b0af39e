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
-- Order       : component, position, vehicle_id, from_on

with gaps as (

    select
        component,
        position,
        f.series,
        vehicle_id,
        f.visit_day as from_on,
        lead(f.visit_day) over (
            partition by vehicle_id, component, position
            order by f.visit_day
        ) as next_on,
        coalesce(next_on, w.end_on) as to_on
    from fault_event as f
    inner join watch as w using (vehicle_id, component, position)
    -- a place in line that rule 16 filled in says nothing about coming back to the same position
    where f.used and not f.position_inferred

)

select
    g.component,
    g.position,
    g.series,
    g.vehicle_id,
    g.from_on,
    (
        g.to_on - g.from_on
        - coalesce(
            sum(greatest(least(g.to_on, l.to_on) - greatest(g.from_on, l.from_on), 0)) filter (where l.to_on is not null),
            0
        )
    )::bigint as days,
    (g.next_on is not null)::integer as event
from gaps as g
left join lay_up as l using (vehicle_id)
group by g.component, g.position, g.series, g.vehicle_id, g.from_on, g.to_on, g.next_on
-- the next failure can fall into a long stay; it is still the next failure
having days > 0 or event = 1
order by g.component, g.position, g.vehicle_id, g.from_on
