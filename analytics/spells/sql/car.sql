-- One row per : car that had an order or a reading by the as-of day (rules 6, 20, 21, 23, 28)
-- Reads       : vehicles, visit, readings
-- Parameters  : as_of DATE, last day that counts
--             : since_new_days INTEGER, first seen within this of its build date: in care since new
-- Returns     : vehicle_id VARCHAR
--             : car_no INTEGER, 1, 2, 3 by vehicle_id
--             : series VARCHAR
--             : built_on DATE, null if the car was here before
--             : serial VARCHAR
--             : owner_key VARCHAR
--             : odometer_digits BIGINT
--             : first_visit_id VARCHAR, null for a car known from annual returns only
--             : first_visit_day DATE
--             : joined_on DATE, hand-over of the first visit; null without a visit
--             : first_seen DATE, first visit, else first reading
--             : last_seen DATE, last visit, else last reading
--             : visits BIGINT
--             : left_on DATE, null if after the as-of day or before the car was first seen
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

),

-- a bare year is told as its 1 July, a bare month as its 15th: the day may be any of that year or month
told as (

    select
        c.*,
        v.* exclude (vehicle_id),
        coalesce(v.first_visit_day, r.first_read_on) as first_seen,
        coalesce(v.last_visit_day, r.last_read_on) as last_seen,
        case
            when not contains(coalesce(c.inferred, ''), 'built_on') then c.built_on
            when day(c.built_on) = 1 then date_trunc('year', c.built_on)
            else date_trunc('month', c.built_on)
        end as built_from,
        case
            when not contains(coalesce(c.inferred, ''), 'left_on') then c.left_on
            when day(c.left_on) = 1 then make_date(year(c.left_on), 12, 31)
            else last_day(c.left_on)
        end as left_to,
        case when v.last_visit_day <= left_to then v.last_visit_day end as last_in_range
    from vehicles as c
    left join visits_of_car as v using (vehicle_id)
    left join readings_of_car as r using (vehicle_id)
    where v.vehicle_id is not null or r.vehicle_id is not null

)

select
    vehicle_id,
    row_number() over (order by vehicle_id)::integer as car_no,
    series,
    case when built_from <= first_seen then least(t.built_on, first_seen) end as built_on,
    serial,
    owner_key,
    odometer_digits,
    first_visit_id,
    first_visit_day,
    joined_on,
    first_seen,
    last_seen,
    coalesce(t.visits, 0) as visits,
    case when t.left_on <= $as_of and left_to >= first_seen then greatest(t.left_on, last_in_range) end
        as left_on,
    case when t.left_on <= $as_of and left_to >= first_seen then t.left_why end as left_why,
    coalesce(built_from <= first_visit_day and first_visit_day - t.built_on <= $since_new_days, false) as since_new,
    inferred
from told as t
order by vehicle_id
