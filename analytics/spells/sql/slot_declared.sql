-- One row per : component of a car that the table of components gives it, with its positions (rule 15)
-- Reads       : components, car
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : component VARCHAR
--             : positions VARCHAR[], by name; only where the component has no named position on this car
--             : serial_unknown BOOLEAN, a range of serials could not be checked
-- Order       : none

with cars as (

    -- a serial is compared by its leading text, then by the number it ends in: B999 comes before B1000
    select
        *,
        (regexp_replace(serial, '\d+$', ''), try_cast(regexp_extract(serial, '\d+$') as hugeint)) as serial_key
    from car

),

ranges as (

    select
        *,
        bool_or(serial_from is not null or serial_to is not null) over (partition by component) as by_serial,
        (regexp_replace(serial_from, '\d+$', ''), try_cast(regexp_extract(serial_from, '\d+$') as hugeint)) as from_key,
        (regexp_replace(serial_to, '\d+$', ''), try_cast(regexp_extract(serial_to, '\d+$') as hugeint)) as to_key
    from components

),

-- without ranges of serials all cars of a series have the same
of_series as (

    select
        s.series,
        r.component,
        list_sort(list(distinct r.position) filter (where r.position is not null)) as positions
    from (select distinct series from car) as s
    inner join ranges as r on r.series is null or s.series = r.series
    where not r.by_serial
    group by s.series, r.component

),

of_car as (

    select
        c.vehicle_id,
        r.component,
        list_sort(list(distinct r.position) filter (where r.position is not null)) as positions,
        bool_or(c.serial is null and (r.serial_from is not null or r.serial_to is not null)) as serial_unknown
    from cars as c
    inner join ranges as r
        on
            (r.series is null or c.series = r.series)
            -- a car without serial keeps the positions of every range: better one too many than a lost record
            and (c.serial is null or r.serial_from is null or c.serial_key >= r.from_key)
            and (c.serial is null or r.serial_to is null or c.serial_key <= r.to_key)
    where r.by_serial
    group by c.vehicle_id, r.component

)

select
    c.vehicle_id,
    s.component,
    coalesce(s.positions, ['only']) as positions,
    false as serial_unknown
from car as c
inner join of_series as s on c.series is not distinct from s.series
union all
select
    vehicle_id,
    component,
    coalesce(positions, ['only']) as positions,
    serial_unknown
from of_car
