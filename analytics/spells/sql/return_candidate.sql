-- One row per : watched repair and failure of the same within its days, on another visit (rule 37)
-- Reads       : watched_repair, repair
-- Parameters  : return_days INTEGER, window of a return
-- Returns     : repair_no INTEGER
--             : return_no INTEGER, repair_no of the failure
--             : days BIGINT, from hand-over to coming in
-- Order       : repair_no, days, return_no

with named as (

    select
        w.repair_no,
        w.is_blank,
        w.handed_on,
        w.why_none is null as watched,
        w.failed and w.is_dated as returns,
        r.vehicle_id,
        r.component,
        r.position,
        r.fault_on,
        r.visit_id
    from watched_repair as w
    inner join repair as r using (repair_no)

)

select
    r.repair_no,
    f.repair_no as return_no,
    f.fault_on - r.handed_on as days
from named as r
inner join named as f
    on
        r.vehicle_id = f.vehicle_id
        and r.component = f.component
        -- a failure without a position may be one of any
        and (r.position = f.position or r.is_blank or f.is_blank)
        and f.fault_on > r.handed_on
        and f.fault_on <= r.handed_on + $return_days
        and r.visit_id <> f.visit_id
where r.watched and f.returns
order by r.repair_no, days, return_no
