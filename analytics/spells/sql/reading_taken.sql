-- One row per : line with a reading taken at the check
-- Reads       : line
-- Parameters  : none
-- Returns     : record VARCHAR
--             : vehicle_id VARCHAR
--             : series VARCHAR
--             : read_on DATE
--             : component VARCHAR, null where none is named
--             : position VARCHAR
--             : measured DOUBLE
--             : measured_unit VARCHAR, null where none is named
-- Order       : record

select
    line_id as record,
    vehicle_id,
    series,
    fault_on as read_on,
    component,
    position,
    measured,
    nullif(trim(measured_unit), '') as measured_unit
from line
where measured is not null
order by record
