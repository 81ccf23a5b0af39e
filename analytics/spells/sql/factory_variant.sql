-- One row per : position of a car in care since new whose factory design the serial tells (rule 18)
-- Reads       : parts, slot, watch_window, car
-- Parameters  : none
-- Returns     : slot_no INTEGER
--             : variant VARCHAR, the only one whose range holds the serial
-- Order       : none

with ranges as (

    select
        *,
        (regexp_replace(serial_from, '\d+$', ''), try_cast(regexp_extract(serial_from, '\d+$') as hugeint)) as from_key,
        (regexp_replace(serial_to, '\d+$', ''), try_cast(regexp_extract(serial_to, '\d+$') as hugeint)) as to_key
    from parts
    where serial_from is not null or serial_to is not null

)

select
    o.slot_no,
    min(coalesce(p.variant, p.part_no)) as variant
from slot as o
inner join watch_window as w using (window_no)
inner join car as c on o.vehicle_id = c.vehicle_id
inner join ranges as p
    on
        o.component = p.component
        and coalesce(p.position, o.position) = o.position
        and coalesce(p.series, c.series) = c.series
        and (p.serial_from is null
            or (regexp_replace(c.serial, '\d+$', ''), try_cast(regexp_extract(c.serial, '\d+$') as hugeint))
            >= p.from_key)
        and (p.serial_to is null
            or (regexp_replace(c.serial, '\d+$', ''), try_cast(regexp_extract(c.serial, '\d+$') as hugeint))
            <= p.to_key)
where w.since_new and c.serial is not null
group by o.slot_no
having count(distinct coalesce(p.variant, p.part_no)) = 1
