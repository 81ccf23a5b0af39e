-- One row per : sale over the counter that is not read as a repair line
-- Reads       : sales, repair_line
-- Parameters  : as_of DATE, last day that counts
-- Returns     : part_no VARCHAR
--             : sold_on DATE
--             : quantity DOUBLE
--             : vehicle_id VARCHAR
--             : lost BOOLEAN
-- Order       : part_no, sold_on, vehicle_id, quantity

select
    part_no,
    sold_on,
    quantity,
    vehicle_id,
    lost
from sales
where
    sold_on <= $as_of
    and (
        vehicle_id is null
        or coalesce(lost, false)
        or exists (select 1 from repair_line where not from_sale and closed_on <= $as_of)
    )
order by part_no, sold_on, vehicle_id, quantity
