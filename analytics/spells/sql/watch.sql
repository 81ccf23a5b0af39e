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

select
    s.vehicle_id,
    c.series,
    s.component,
    s.position,
    w.joined_on as start_on,
    w.end_on,
    (w.joined_on - c.built_on)::bigint as from_day,
    (w.end_on - c.built_on)::bigint as to_day,
    (
        w.end_on - w.joined_on
        - coalesce(
            sum(greatest(least(w.end_on, l.to_on) - greatest(w.joined_on, l.from_on), 0)) filter (where l.to_on is not null),
            0
        )
    )::bigint as vehicle_days
from slot as s
inner join car as c using (vehicle_id)
inner join watch_window as w using (vehicle_id, component)
left join lay_up as l using (vehicle_id)
where w.end_on > w.joined_on
group by s.vehicle_id, c.series, s.component, s.position, w.joined_on, w.end_on, c.built_on
order by s.vehicle_id, s.component, s.position
