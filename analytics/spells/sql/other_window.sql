-- One row per : component of a car, with the day its watching would end by another choice than rule 23
-- Reads       : watch_window, car, visit
-- Parameters  : ending VARCHAR, last visit, last visit and grace, or day of analysis
--             : as_of DATE, last day that counts
--             : grace_gaps DOUBLE, grace in gaps between the car's visits
--             : grace_most_days INTEGER, longest grace
-- Returns     : window_no INTEGER
--             : end_on DATE
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
        least($grace_gaps * coalesce(u.days, (select median(days) from usual), 0), $grace_most_days)::integer as days
    from car as c
    left join usual as u using (vehicle_id)

)

select
    w.window_no,
    case $ending
        when 'last visit' then w.last_any
        when 'last visit and grace' then least(w.last_any + g.days, $as_of, c.left_on)
        when 'day of analysis' then least($as_of, c.left_on)
    end as end_on
from watch_window as w
inner join car as c using (vehicle_id)
inner join grace as g using (vehicle_id)
