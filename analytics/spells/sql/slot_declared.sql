-- One row per : position that the table of components gives a car (rule 15)
-- Reads       : components, car
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR, only where the component has no named position on this car
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
        (regexp_replace(serial_from, '\d+$', ''), try_cast(regexp_extract(serial_from, '\d+$') as hugeint)) as from_key,
        (regexp_replace(serial_to, '\d+$', ''), try_cast(regexp_extract(serial_to, '\d+$') as hugeint)) as to_key
    from components

),

fitting as (

    select
        c.vehicle_id,
        r.component,
        r.position,
        c.serial is null and (r.serial_from is not null or r.serial_to is not null) as serial_unknown
    from cars as c
    inner join ranges as r
        on
            (r.series is null or c.series = r.series)
            -- a car without serial keeps the positions of every range: better one too many than a lost record
            and (c.serial is null or r.serial_from is null or c.serial_key >= r.from_key)
            and (c.serial is null or r.serial_to is null or c.serial_key <= r.to_key)

)

select
    vehicle_id,
    component,
    unnest(coalesce(list_sort(list(distinct position) filter (where position is not null)), ['only'])) as position,
    bool_or(serial_unknown) as serial_unknown
from fitting
group by vehicle_id, component
