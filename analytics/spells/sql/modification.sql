-- One row per : position of a car that was modified, or got the design that supersedes another (rules 9, 18)
-- Reads       : parts, part_design, repair, slot
-- Parameters  : none
-- Returns     : component VARCHAR
--             : kind VARCHAR, modified or design
--             : modification VARCHAR, the design that it made or fitted, else modified
--             : vehicle_id VARCHAR
--             : position VARCHAR
--             : visit_day DATE, of the visit that did it
--             : from_on DATE, the car came in for it
--             : to_on DATE, handed over with it
--             : until_on DATE, another design was fitted again; null if not
-- Order       : component, kind, modification, vehicle_id, position

-- a design that supersedes another one of the component is a modification of the cars that get it
with newer as (

    select distinct
        n.component,
        n.variant
    from parts as p
    inner join part_design as d on p.part_no = d.part_no and p.component = d.component
    inner join part_design as n on p.superseded_by = n.part_no and p.component = n.component
    where n.variant <> d.variant

),

repairs as (

    select
        r.repair_no,
        r.component,
        r.slot_no,
        r.visit_day,
        r.fault_on,
        r.order_to,
        r.renews,
        r.modified,
        coalesce(d.variant, r.part_no) as variant
    from repair as r
    left join part_design as d on r.component = d.component and r.part_no = d.part_no
    where r.has_slot

),

marked as (

    select
        *,
        'modified' as kind,
        coalesce(variant, 'modified') as modification
    from repairs
    where modified
    union all
    select
        r.*,
        'design' as kind,
        r.variant as modification
    from repairs as r
    semi join newer using (component, variant)
    where r.renews and not r.modified

),

firsts as (

    select *
    from marked
    qualify row_number() over (partition by slot_no, kind, modification order by fault_on, order_to, repair_no) = 1

)

select
    f.component,
    f.kind,
    f.modification,
    s.vehicle_id,
    s.position,
    f.visit_day,
    f.fault_on as from_on,
    f.order_to as to_on,
    min(r.fault_on) as until_on
from firsts as f
inner join slot as s using (slot_no)
left join repairs as r
    on f.slot_no = r.slot_no and f.kind = 'design' and r.renews and r.variant <> f.variant and r.fault_on > f.order_to
group by all
order by f.component, f.kind, f.modification, s.vehicle_id, s.position
