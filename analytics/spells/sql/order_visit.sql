-- One row per : order, with the visit that holds it
-- Reads       : order_line, visit
-- Parameters  : none
-- Returns     : order_no INTEGER
--             : visit_id VARCHAR
--             : visit_day DATE, its first
-- Order       : none

select
    o.order_no,
    v.visit_id,
    v.day as visit_day
from (select distinct order_no, vehicle_id, order_from from order_line) as o
asof inner join visit as v on o.vehicle_id = v.vehicle_id and o.order_from >= v.day
