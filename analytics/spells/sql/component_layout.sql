-- One row per : component of the cars of a series, or of one car, with its positions, which share a number (rule 15)
-- Reads       : components, car, line
-- Parameters  : none
-- Returns     : series VARCHAR, null: one car
--             : vehicle_id VARCHAR, null: every car of the series
--             : component VARCHAR
--             : declared BOOLEAN, the table of components names it
--             : serial_unknown BOOLEAN, a range of serials could not be checked
--             : positions VARCHAR[], by name; only where the component has no named position
--             : layout_no INTEGER, 1, 2, 3 by positions: few lists serve all cars
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

every as (

    -- without ranges of serials all cars of a series have the same
    select
        s.series,
        null as vehicle_id,
        r.component,
        true as declared,
        false as serial_unknown,
        list_sort(list(distinct r.position) filter (where r.position is not null)) as named
    from (select distinct series from car) as s
    inner join ranges as r on r.series is null or s.series = r.series
    where not r.by_serial
    group by s.series, r.component
    union all
    select
        null as series,
        c.vehicle_id,
        r.component,
        true as declared,
        bool_or(c.serial is null and (r.serial_from is not null or r.serial_to is not null)) as serial_unknown,
        list_sort(list(distinct r.position) filter (where r.position is not null)) as named
    from cars as c
    inner join ranges as r
        on
            (r.series is null or c.series = r.series)
            -- a car without serial keeps the positions of every range: better one too many than a lost record
            and (c.serial is null or r.serial_from is null or c.serial_key >= r.from_key)
            and (c.serial is null or r.serial_to is null or c.serial_key <= r.to_key)
    where r.by_serial
    group by c.vehicle_id, r.component
    union all
    -- a component the table does not name: what was ever recorded in the series; a series without any record has none
    select
        l.series,
        null as vehicle_id,
        l.component,
        false as declared,
        false as serial_unknown,
        list_sort(list(distinct l.position) filter (where l.position is not null)) as named
    from line as l
    anti join components as c using (component)
    where l.component is not null
    group by l.series, l.component

)

select
    series,
    vehicle_id,
    component,
    declared,
    serial_unknown,
    coalesce(named, ['only']) as positions,
    (dense_rank() over (order by coalesce(named, ['only'])))::integer as layout_no
from every
