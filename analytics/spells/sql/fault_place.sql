-- One row per : further place of a counted fault, or place of a fault without component (rule 36)
-- Reads       : line, unit_line, fault_event
-- Parameters  : none
-- Returns     : fault_record VARCHAR
--             : vehicle_id VARCHAR
--             : series VARCHAR
--             : visit_day DATE
--             : location VARCHAR
--             : reads_as VARCHAR
-- Order       : fault_record

with lines as (

    select
        l.line_id,
        l.line_key,
        l.vehicle_id,
        l.series,
        l.visit_day,
        l.component,
        l.location,
        l.reads_as
    from line as l
    where l.location is not null and l.reads_as in ('failure', 'found at inspection', 'consequence')

),

counted as (

    select l.*
    from lines as l
    inner join unit_line as u using (line_key)
    semi join fault_event as f
        on
            l.vehicle_id = f.vehicle_id
            and l.visit_day = f.visit_day
            and u.component = f.component
            and u.position = f.position
    union
    select *
    from lines
    where component is null

)

select
    c.line_id as fault_record,
    c.vehicle_id,
    c.series,
    c.visit_day,
    c.location,
    c.reads_as
from counted as c
anti join fault_event as f
    on c.vehicle_id = f.vehicle_id and c.visit_day = f.visit_day and c.location = f.location
qualify row_number() over (partition by c.vehicle_id, c.visit_day, c.location order by c.line_id) = 1
order by fault_record
