-- One row per : order line up to the as-of day, without free text
-- Reads       : line, clean_line, repair
-- Parameters  : none
-- Returns     : line_key INTEGER
--             : record VARCHAR
--             : record_id VARCHAR
--             : line_no BIGINT
--             : vehicle_id VARCHAR
--             : series VARCHAR
--             : opened_on DATE
--             : closed_on DATE
--             : odometer_km DOUBLE
--             : component VARCHAR
--             : position VARCHAR
--             : location VARCHAR
--             : action VARCHAR
--             : reason VARCHAR
--             : part_no VARCHAR
--             : part_origin VARCHAR
--             : quantity DOUBLE
--             : labour_minutes DOUBLE
--             : inferred VARCHAR
--             : clean_check BOOLEAN, an inspection that found it good, beside no fault of the same on the visit
-- Order       : none

-- what one line calls good and another of the same visit calls a fault is not good
with contradicted as (

    select distinct l.line_key
    from line as l
    inner join clean_line using (line_key)
    inner join repair as r
        on l.visit_id = r.visit_id and l.component = r.component
    where
        r.reads_as in ('failure', 'found at inspection', 'consequence')
        and (l.position is null or l.position = r.position or r.position in ('only', 'all'))

)

select
    l.line_key,
    l.line_id as record,
    l.record_id,
    l.line_no,
    l.vehicle_id,
    l.series,
    l.opened_on,
    l.closed_on,
    -- an international mile is 1.609344 km exactly
    l.odometer * case when l.odometer_unit = 'mi' then 1.609344 else 1 end as odometer_km,
    l.component,
    l.position,
    l.location,
    l.action,
    l.reason,
    l.part_no,
    l.part_origin,
    l.quantity,
    l.labour_minutes,
    l.inferred,
    c.line_key is not null and d.line_key is null as clean_check
from line as l
left join clean_line as c using (line_key)
left join contradicted as d using (line_key)
