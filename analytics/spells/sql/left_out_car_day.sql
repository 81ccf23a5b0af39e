-- One row per : what is not known, or not believed, of the days of building and of leaving (rules 23, 28)
-- Reads       : vehicles, car
-- Parameters  : as_of DATE, last day that counts
-- Returns     : kind VARCHAR
--             : count BIGINT
--             : out_of BIGINT, cars
--             : example_record VARCHAR, the first such car
--             : says VARCHAR, what was done about it
-- Order       : kind

with words (kind, says) as (

    values
    ('car without day of building', 'the age of the car is not known'),
    ('day of building after the car was first seen', 'not believed: the age of the car is not known'),
    ('day of leaving before the car was first seen', 'not believed: the car is taken as still in care')

),

found as (

    select
        c.vehicle_id,
        unnest([
            case when v.built_on is null then 'car without day of building' end,
            case
                when v.built_on is not null and c.built_on is null then 'day of building after the car was first seen'
            end,
            case
                when v.left_on <= $as_of and c.left_on is null then 'day of leaving before the car was first seen'
            end
        ]) as kind
    from car as c
    inner join vehicles as v using (vehicle_id)

)

select
    w.kind,
    count(*) as count,
    (select count(*) from car) as out_of,
    'car ' || min(f.vehicle_id) as example_record,
    w.says
from found as f
inner join words as w using (kind)
group by w.kind, w.says
order by w.kind
