-- One row per : stretch of a unit's life with the design of the part (rule 18)
-- Reads       : parts, stretch, factory_variant
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR
--             : unit_no BIGINT
--             : stretch_no BIGINT
--             : variant VARCHAR, or unknown
--             : part_no VARCHAR, fitted, else told when taken out
--             : assumed BOOLEAN, the factory's by serial
--             : variant_told_by VARCHAR, fitting, taking out, factory or nobody
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

-- a modification without a part keeps the number of what it modified
told as (

    select
        *,
        last_value(part_no ignore nulls) over (
            partition by vehicle_id, component, position, unit_no
            order by stretch_no
        ) as fitted_no,
        coalesce(fitted_no, removed_part_no) as told_no
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
    s.told_no is null and f.variant is not null as assumed,
    case
        when s.fitted_no is not null then 'fitting'
        when s.told_no is not null then 'taking out'
        when f.variant is not null then 'factory'
        else 'nobody'
    end as variant_told_by
from told as s
left join design as d on s.told_no = d.part_no and s.component = d.component
left join any_design as a on s.told_no = a.part_no
left join factory_variant as f
    on s.told_by = 'built' and s.vehicle_id = f.vehicle_id and s.component = f.component and s.position = f.position
order by s.vehicle_id, s.component, s.position, s.unit_no, s.stretch_no
