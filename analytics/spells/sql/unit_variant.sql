-- One row per : stretch of a unit's life with the design of the part (rule 18)
-- Reads       : parts, stretch, slot, factory_variant
-- Parameters  : none
-- Returns     : stretch_id BIGINT
--             : variant VARCHAR, or unknown
--             : part_no VARCHAR, fitted, else told when taken out
--             : assumed BOOLEAN, the factory's by serial
--             : variant_told_by VARCHAR, fitting, taking out, factory or nobody
-- Order       : none

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
modified as (

    select
        stretch_id,
        last_value(part_no ignore nulls) over (
            partition by fit_stretch_id
            order by stretch_no
        ) as kept_no
    from stretch
    where fit_stretch_id in (select fit_stretch_id from stretch where stretch_no > 1)

),

told as (

    select
        s.*,
        case when s.stretch_no = 1 then s.part_no else m.kept_no end as fitted_no,
        coalesce(fitted_no, s.removed_part_no) as told_no
    from stretch as s
    left join modified as m using (stretch_id)

)

select
    s.stretch_id,
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
left join slot as o on s.slot_no = o.slot_no and s.told_no is not null
left join design as d on s.told_no = d.part_no and o.component = d.component
left join any_design as a on s.told_no = a.part_no
left join factory_variant as f
    on s.told_by = 'built' and s.slot_no = f.slot_no
