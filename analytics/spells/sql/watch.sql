-- One row per : position of a car while it is watched for failures (rules 15, 23, 25, 35)
-- Reads       : slot, car, watch_window, lay_up
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : series VARCHAR
--             : component VARCHAR
--             : position VARCHAR
--             : start_on DATE
--             : end_on DATE
--             : from_day BIGINT, days since built_on; null where that is not known
--             : to_day BIGINT, days since built_on
--             : vehicle_days BIGINT, without long stays in the workshop
-- Order       : vehicle_id, component, position

with windows as (

    select
        vehicle_id,
        component,
        joined_on,
        end_on
    from watch_window
    where end_on > joined_on

),

stays as (

    select
        vehicle_id,
        w.component,
        sum(greatest(least(w.end_on, l.to_on) - greatest(w.joined_on, l.from_on), 0)) as days
    from windows as w
    inner join lay_up as l using (vehicle_id)
    group by vehicle_id, w.component

)

select
    s.vehicle_id,
    c.series,
    s.component,
    s.position,
    w.joined_on as start_on,
    w.end_on,
    (w.joined_on - c.built_on)::bigint as from_day,
    (w.end_on - c.built_on)::bigint as to_day,
    (w.end_on - w.joined_on - coalesce(l.days, 0))::bigint as vehicle_days
from slot as s
inner join car as c using (vehicle_id)
inner join windows as w using (vehicle_id, component)
left join stays as l using (vehicle_id, component)
order by s.slot_no
