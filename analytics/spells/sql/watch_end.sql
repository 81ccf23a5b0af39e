-- One row per : component of a car, with the day on which its watching ends by each choice of it (rule 23)
-- Reads       : watch_window, car, visit
-- Parameters  : as_of DATE, last day that counts
--             : grace_gaps DOUBLE, grace in gaps between the car's visits
--             : grace_most_days INTEGER, longest grace
-- Returns     : window_no INTEGER
--             : built_on DATE
--             : joined_on DATE
--             : since_new BOOLEAN
--             : whole_car BOOLEAN
--             : last_neutral DATE, last neutral visit, what rule 23 takes; null if none
--             : last_visit DATE
--             : with_grace DATE, last visit and grace
--             : day_of_analysis DATE
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
    w.built_on,
    w.joined_on,
    w.since_new,
    w.whole_car,
    w.end_on as last_neutral,
    w.last_any as last_visit,
    least(w.last_any + g.days, $as_of, g.left_on) as with_grace,
    least($as_of, g.left_on) as day_of_analysis
from watch_window as w
inner join grace as g using (vehicle_id)
