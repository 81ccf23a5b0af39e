-- One row per : event and position that its part fits, where the table of parts names positions (rules 15, 16)
-- Reads       : unit_event, unit_place, car, parts
-- Parameters  : none
-- Returns     : event_no BIGINT
--             : position_no BIGINT, 0, 1, 2 by name
-- Order       : event_no, position_no

with places as (

    select
        e.event_no,
        e.vehicle_id,
        e.component,
        p.position
    from unit_event as e
    inner join car as c using (vehicle_id)
    inner join parts as p
        on
            e.part_no = p.part_no
            and e.component = p.component
            and coalesce(p.series, c.series) = c.series

),

restricted as (

    select event_no
    from places
    group by event_no
    having bool_and(position is not null)

)

select distinct
    p.event_no,
    s.position_no
from places as p
semi join restricted using (event_no)
inner join unit_place as s
    on p.vehicle_id = s.vehicle_id and p.component = s.component and p.position = s.position
order by p.event_no, s.position_no
