-- One row per : order, component and position: one repair (rules 12, 17, 21)
-- Reads       : repair_draft, joining_repair, slot
-- Parameters  : none
-- Returns     : repair_id VARCHAR
--             : repair_no INTEGER, 1, 2, 3 by repair_id
--             : order_id VARCHAR
--             : visit_id VARCHAR
--             : visit_day DATE
--             : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR
--             : position_inferred BOOLEAN, rule 16 or a sister line told it
--             : fault_on DATE
--             : closed_on DATE
--             : order_from DATE, the order was opened
--             : order_to DATE, the order was handed over
--             : beside_failure BOOLEAN, no reason told, renewed beside a told failure
--             : reads_as VARCHAR
--             : reason_recorded BOOLEAN
--             : action VARCHAR
--             : renews BOOLEAN
--             : modified BOOLEAN
--             : part_no VARCHAR
--             : part_used BOOLEAN
--             : removed_part_no VARCHAR
--             : part_origin VARCHAR
--             : fitted_instead_of VARCHAR
--             : quantity DOUBLE
--             : location VARCHAR
--             : came_for BOOLEAN
--             : line_id VARCHAR
--             : lines BIGINT
--             : joining BOOLEAN, on the first visit or on an order opened soon after it
--             : ours BOOLEAN, joining, but an earlier order of ours had renewed the unit
--             : has_slot BOOLEAN, the car has this position
--             : slot_no INTEGER
--             : whole_car BOOLEAN, the component is shown for the whole car
-- Order       : none

with numbered as (

    select
        draft_no,
        order_id || ' | ' || component || ' | ' || position as repair_id,
        row_number() over (order by repair_id)::integer as repair_no
    from repair_draft

),

-- beside the position that is told to have failed, one renewed without a reason was renewed in passing
beside as (

    select distinct u.draft_no
    from repair_draft as u
    inner join repair_draft as t
        on u.order_id = t.order_id and u.component = t.component and t.reads_as = 'failure' and t.reason_recorded
    where u.reads_as = 'failure' and not u.reason_recorded and u.renews

)

select
    n.repair_id,
    n.repair_no,
    p.order_id,
    p.visit_id,
    p.visit_day,
    p.vehicle_id,
    p.component,
    p.position,
    p.position_inferred,
    p.fault_on,
    p.closed_on,
    p.order_from,
    p.order_to,
    b.draft_no is not null as beside_failure,
    case when beside_failure then 'changed in passing' else p.reads_as end as reads_as,
    p.reason_recorded,
    p.action,
    p.renews,
    p.modified,
    p.part_no,
    p.part_used,
    p.removed_part_no,
    p.part_origin,
    p.fitted_instead_of,
    p.quantity,
    p.location,
    p.came_for,
    p.line_id,
    p.lines,
    j.draft_no is not null as joining,
    coalesce(j.ours, false) as ours,
    s.slot_no is not null as has_slot,
    s.slot_no,
    s.whole_car
from repair_draft as p
inner join numbered as n using (draft_no)
left join beside as b using (draft_no)
left join joining_repair as j using (draft_no)
left join slot as s using (vehicle_id, component, position)
