-- One row per : dated presence of a car: an order, a reading taken here, a quarantined line (rules 2, 3)
-- Reads       : order_line, readings, seen, vehicles
-- Parameters  : as_of DATE, last day that counts
-- Returns     : vehicle_id VARCHAR
--             : from_on DATE
--             : to_on DATE
--             : planned BOOLEAN, some line of it is planned
--             : kind VARCHAR, order, reading or quarantined
--             : lines BIGINT, repair lines of it in the ledger
-- Order       : none

-- an order without a day of opening is a presence of one day, its closing
select
    vehicle_id,
    order_from as from_on,
    order_to as to_on,
    bool_or(order_planned) as planned,
    'order' as kind,
    count(*) as lines
from order_line
group by vehicle_id, order_no, order_from, order_to
union all
-- an annual return tells a distance, not that the car was here; an empty source is taken as a visit
select
    vehicle_id,
    read_on as from_on,
    read_on as to_on,
    false as planned,
    'reading' as kind,
    0 as lines
from readings
semi join vehicles using (vehicle_id)
where
    read_on <= $as_of
    and coalesce(source, 'visit') in ('visit', 'inspection')
union all
select
    vehicle_id,
    day as from_on,
    day as to_on,
    coalesce(planned, false) as planned,
    'quarantined' as kind,
    0 as lines
from seen
semi join vehicles using (vehicle_id)
where day <= $as_of
