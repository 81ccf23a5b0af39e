-- One row per : car and day on which an order of it began, with the visit that holds it
-- Reads       : order_line, visit
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : order_from DATE
--             : visit_id VARCHAR
--             : visit_day DATE, its first
-- Order       : none

select
    d.vehicle_id,
    d.order_from,
    v.visit_id,
    v.day as visit_day
from (select distinct vehicle_id, order_from from order_line) as d
asof inner join visit as v on d.vehicle_id = v.vehicle_id and d.order_from >= v.day
