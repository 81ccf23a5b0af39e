-- One row per : component of a car while it is watched for failures (rules 15, 23, 25, 35)
-- Reads       : watch_window, lay_up
-- Parameters  : none
-- Returns     : window_no INTEGER
--             : vehicle_id VARCHAR
--             : start_on DATE
--             : end_on DATE
--             : from_day BIGINT, days since built_on; null where that is not known
--             : to_day BIGINT, days since built_on
--             : vehicle_days BIGINT, without long stays in the workshop
-- Order       : none

with windows as (

    select
        window_no,
        vehicle_id,
        built_on,
        joined_on,
        end_on
    from watch_window
    where end_on > joined_on

),

stays as (

    select
        w.window_no,
        sum(greatest(least(w.end_on, l.to_on) - greatest(w.joined_on, l.from_on), 0)) as days
    from windows as w
    inner join lay_up as l using (vehicle_id)
    group by w.window_no

)

select
    w.window_no,
    w.vehicle_id,
    w.joined_on as start_on,
    w.end_on,
    (w.joined_on - w.built_on)::bigint as from_day,
    (w.end_on - w.built_on)::bigint as to_day,
    (w.end_on - w.joined_on - coalesce(l.days, 0))::bigint as vehicle_days
from windows as w
left join stays as l using (window_no)
