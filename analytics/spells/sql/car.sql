-- One row per : car that had an order or a reading by the as-of day (rules 6, 20, 21)
-- Reads       : vehicles, visit, readings
-- Parameters  : as_of DATE, last day that counts
--             : since_new_days INTEGER, first seen within this of its build date: in care since new
-- Returns     : vehicle_id VARCHAR
--             : series VARCHAR
--             : built_on DATE
--             : serial VARCHAR
--             : owner_key VARCHAR
--             : odometer_digits BIGINT
--             : first_visit_id VARCHAR, null for a car known from annual returns only
--             : first_visit_day DATE
--             : joined_on DATE, hand-over of the first visit; null without a visit
--             : first_seen DATE, first visit, else first reading
--             : last_seen DATE, last visit, else last reading
--             : visits BIGINT
--             : left_on DATE, null if after the as-of day
--             : left_why VARCHAR
--             : since_new BOOLEAN
--             : inferred VARCHAR, columns of the car that were filled in, with ;
-- Order       : vehicle_id

with visits_of_car as (

    select
        vehicle_id,
        arg_min(visit_id, day) as first_visit_id,
        min(day) as first_visit_day,
        arg_min(closed_on, day) as joined_on,
        max(day) as last_visit_day,
        count(*) as visits
    from visit
    group by vehicle_id

),

readings_of_car as (

    select
        vehicle_id,
        min(read_on) as first_read_on,
        max(read_on) as last_read_on
    from readings
    where read_on <= $as_of
    group by vehicle_id

)

select
    c.vehicle_id,
    c.series,
    c.built_on,
    c.serial,
    c.owner_key,
    c.odometer_digits,
    v.first_visit_id,
    v.first_visit_day,
    v.joined_on,
    coalesce(v.first_visit_day, r.first_read_on) as first_seen,
    coalesce(v.last_visit_day, r.last_read_on) as last_seen,
    coalesce(v.visits, 0) as visits,
    case when c.left_on <= $as_of then c.left_on end as left_on,
    case when c.left_on <= $as_of then c.left_why end as left_why,
    -- a bare year of building means 1 July, so a car may be seen some months "before" it was built
    coalesce(abs(v.first_visit_day - c.built_on) <= $since_new_days, false) as since_new,
    c.inferred
from vehicles as c
left join visits_of_car as v using (vehicle_id)
left join readings_of_car as r using (vehicle_id)
where v.vehicle_id is not null or r.vehicle_id is not null
order by c.vehicle_id
