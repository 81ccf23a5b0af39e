-- One row per : job line a load brought that was closed in a year before its car was built
-- Reads       : repairs_revision, vehicles
-- Parameters  : load_id BIGINT
-- Returns     : file VARCHAR
--             : row_no BIGINT
--             : vehicle_id VARCHAR
--             : closed_on DATE
--             : built_in BIGINT, year
-- Order       : file, row_no

select
    r.file,
    r.row_no,
    r.vehicle_id,
    r.closed_on,
    year(v.built_on) as built_in
from repairs_revision as r
inner join vehicles as v using (vehicle_id)
where r.load_id = $load_id and year(r.closed_on) < year(v.built_on)
order by r.file, r.row_no
