-- One row per : stretch of a unit's life of which a part, the factory or a modification tells the design (rule 18)
-- Reads       : parts, part_design, stretch, slot, factory_variant, repair, fitting
-- Parameters  : none
-- Returns     : stretch_id INTEGER
--             : variant VARCHAR, or unknown
--             : part_no VARCHAR, fitted, else told when taken out
--             : assumed BOOLEAN, the factory's by serial
--             : variant_told_by VARCHAR, fitting, taking out, factory or nobody
-- Order       : none

with any_design as (

    select
        part_no,
        min(coalesce(variant, part_no)) as variant
    from parts
    group by part_no

),

parted as (

    select
        s.stretch_id,
        s.slot_no,
        s.unit_no,
        s.stretch_no,
        coalesce(r.part_no, f.part_no) as part_no,
        o.removed_part_no,
        v.variant as factory
    from stretch as s
    left join repair as r on s.start_step = r.repair_no
    left join fitting as f on s.start_step = f.step_no
    left join repair as o on s.removed_step = o.repair_no
    left join factory_variant as v on s.told_by = 'built' and s.slot_no = v.slot_no
    where s.start_step is not null or s.removed_step is not null or s.stretch_no > 1 or v.slot_no is not null

),

-- a modification without a part keeps the number of what it modified
modified as (

    select
        stretch_id,
        last_value(part_no ignore nulls) over (
            partition by slot_no, unit_no
            order by stretch_no
        ) as kept_no
    from parted
    where (slot_no, unit_no) in (select (slot_no, unit_no) from parted where stretch_no > 1)

),

told as (

    select
        p.*,
        case when p.stretch_no = 1 then p.part_no else m.kept_no end as fitted_no,
        coalesce(fitted_no, p.removed_part_no) as told_no
    from parted as p
    left join modified as m using (stretch_id)

)

select
    t.stretch_id,
    coalesce(d.variant, a.variant, t.told_no, t.factory, 'unknown')
    || case when t.stretch_no > 1 and t.part_no is null then ', modified' else '' end as variant,
    t.told_no as part_no,
    t.told_no is null and t.factory is not null as assumed,
    case
        when t.fitted_no is not null then 'fitting'
        when t.told_no is not null then 'taking out'
        when t.factory is not null then 'factory'
        else 'nobody'
    end as variant_told_by
from told as t
left join slot as o on t.slot_no = o.slot_no and t.told_no is not null
left join part_design as d on t.told_no = d.part_no and o.component = d.component
left join any_design as a on t.told_no = a.part_no
