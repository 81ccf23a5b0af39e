-- One row per : order line up to the as-of day, without free text
-- Reads       : line, line_note
-- Parameters  : none
-- Returns     : record VARCHAR
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
--             : spell_note VARCHAR
-- Order       : record

select
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
    n.spell_note
from line as l
inner join line_note as n using (line_id)
order by record
