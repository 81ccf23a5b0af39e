-- One row per : odometer figure, read separately or stated on the lines of an order (rules 1, 6)
-- Reads       : readings, car, line
-- Parameters  : as_of DATE, last day that counts
-- Returns     : vehicle_id VARCHAR
--             : read_on DATE
--             : seen_at VARCHAR, line or source of the reading
--             : odometer DOUBLE
--             : odometer_unit VARCHAR
--             : stated BOOLEAN, on a repair line
--             : order_id VARCHAR, null where read separately
-- Order       : vehicle_id, read_on, seen_at

select
    r.vehicle_id,
    r.read_on,
    coalesce(r.source, 'visit') as seen_at,
    r.odometer::double as odometer,
    coalesce(r.odometer_unit, 'km') as odometer_unit,
    false as stated,
    null::varchar as order_id
from readings as r
semi join car as c using (vehicle_id)
where r.read_on <= $as_of and r.odometer is not null
union all
select
    vehicle_id,
    fault_on as read_on,
    min(line_id) as seen_at,
    odometer::double as odometer,
    coalesce(odometer_unit, 'km') as odometer_unit,
    true as stated,
    order_id
from line
where odometer is not null
group by vehicle_id, order_id, fault_on, odometer, odometer_unit
order by vehicle_id, read_on, seen_at
