-- One row per : stretch of a unit's life with the design of the part (rule 18)
-- Reads       : parts, stretch, car
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR
--             : unit_no BIGINT
--             : stretch_no BIGINT
--             : variant VARCHAR, or unknown
--             : part_no VARCHAR, fitted, else told when taken out
--             : assumed BOOLEAN, the factory's by serial
-- Order       : vehicle_id, component, position, unit_no, stretch_no

with design as (

    select
        part_no,
        component,
        min(coalesce(variant, part_no)) as variant
    from parts
    group by part_no, component

),

any_design as (

    select
        part_no,
        min(coalesce(variant, part_no)) as variant
    from parts
    group by part_no

),

ranges as (

    select
        *,
        (regexp_replace(serial_from, '\d+$', ''), try_cast(regexp_extract(serial_from, '\d+$') as hugeint)) as from_key,
        (regexp_replace(serial_to, '\d+$', ''), try_cast(regexp_extract(serial_to, '\d+$') as hugeint)) as to_key
    from parts
    where serial_from is not null or serial_to is not null

),

factory as (

    select
        s.vehicle_id,
        s.component,
        s.position,
        min(coalesce(p.variant, p.part_no)) as variant
    from stretch as s
    inner join car as c using (vehicle_id)
    inner join ranges as p
        on
            s.component = p.component
            and coalesce(p.position, s.position) = s.position
            and coalesce(p.series, c.series) = c.series
            and (p.serial_from is null
                or (regexp_replace(c.serial, '\d+$', ''), try_cast(regexp_extract(c.serial, '\d+$') as hugeint))
                >= p.from_key)
            and (p.serial_to is null
                or (regexp_replace(c.serial, '\d+$', ''), try_cast(regexp_extract(c.serial, '\d+$') as hugeint))
                <= p.to_key)
    where s.told_by = 'built' and c.serial is not null
    group by s.vehicle_id, s.component, s.position
    having count(distinct coalesce(p.variant, p.part_no)) = 1

),

-- a modification without a part keeps the number of what it modified
told as (

    select
        *,
        coalesce(last_value(part_no ignore nulls) over (
            partition by vehicle_id, component, position, unit_no
            order by stretch_no
        ), removed_part_no) as told_no
    from stretch

)

select
    s.vehicle_id,
    s.component,
    s.position,
    s.unit_no,
    s.stretch_no,
    coalesce(d.variant, a.variant, s.told_no, f.variant, 'unknown')
    || case when s.stretch_no > 1 and s.part_no is null then ', modified' else '' end as variant,
    s.told_no as part_no,
    s.told_no is null and f.variant is not null as assumed
from told as s
left join design as d on s.told_no = d.part_no and s.component = d.component
left join any_design as a on s.told_no = a.part_no
left join factory as f
    on s.told_by = 'built' and s.vehicle_id = f.vehicle_id and s.component = f.component and s.position = f.position
order by s.vehicle_id, s.component, s.position, s.unit_no, s.stretch_no
