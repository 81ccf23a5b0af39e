-- One row per : watched repair and failure of the same within its days, on another visit (rule 37)
-- Reads       : watched_repair
-- Parameters  : return_days INTEGER, window of a return
-- Returns     : repair_no INTEGER
--             : return_no INTEGER, repair_no of the failure
--             : days BIGINT, from hand-over to coming in
-- Order       : repair_no, days, return_no

select
    r.repair_no,
    f.repair_no as return_no,
    f.fault_on - r.handed_on as days
from watched_repair as r
inner join watched_repair as f
    on
        r.vehicle_id = f.vehicle_id
        and r.component = f.component
        -- a failure without a position may be one of any
        and (r.position = f.position or r.is_blank or f.is_blank)
        and f.fault_on > r.handed_on
        and f.fault_on <= r.handed_on + $return_days
        and r.visit_id <> f.visit_id
where r.why_none is null and f.failed and f.is_dated
order by r.repair_no, days, return_no
