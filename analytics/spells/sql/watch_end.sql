-- One row per : component of a car and choice of the day on which its watching ends (rule 23)
-- Reads       : watch_window, car, visit
-- Parameters  : as_of DATE, last day that counts
--             : grace_gaps DOUBLE, grace in gaps between the car's visits
--             : grace_most_days INTEGER, longest grace
-- Returns     : window_no INTEGER
--             : ending INTEGER, 0 last neutral visit (rule 23), 1 last visit, 2 last visit and grace, 3 day of analysis
--             : end_on DATE, null if none
-- Order       : none

with gaps as (

    select
        vehicle_id,
        day - lag(day) over (partition by vehicle_id order by day) as days
    from visit

),

usual as (

    select
        vehicle_id,
        median(days) as days
    from gaps
    where days is not null
    group by vehicle_id

),

grace as (

    -- a car seen once has no gap of its own: the fleet's middle one
    select
        c.vehicle_id,
        c.left_on,
        least($grace_gaps * coalesce(u.days, (select median(days) from usual), 0), $grace_most_days)::integer as days
    from car as c
    left join usual as u using (vehicle_id)

)

select
    w.window_no,
    unnest([0, 1, 2, 3]) as ending,
    unnest([
        w.end_on,
        w.last_any,
        least(w.last_any + g.days, $as_of, g.left_on),
        least($as_of, g.left_on)
    ]) as end_on
from watch_window as w
inner join grace as g using (vehicle_id)
