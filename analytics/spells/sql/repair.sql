-- One row per : order, component and position: one repair (rules 12, 17, 21)
-- Reads       : repair_draft, car, slot
-- Parameters  : joining_days INTEGER, what is found on orders opened within this of the first visit existed before
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
--             : ours BOOLEAN, an earlier order of ours renewed the unit it concerns
--             : has_slot BOOLEAN, the car has this position
--             : slot_no INTEGER
--             : whole_car BOOLEAN, the component is shown for the whole car
-- Order       : repair_no

with paired as (

    select
        *,
        bool_or(reads_as = 'failure' and reason_recorded) over (partition by order_id, component) as failure_told,
        min(case when renews then closed_on end) over (
            partition by vehicle_id, component, position
            order by fault_on, closed_on, order_id
            rows between unbounded preceding and 1 preceding
        ) as first_renewed_on
    from repair_draft

)

select
    p.order_id || ' | ' || p.component || ' | ' || p.position as repair_id,
    row_number() over (order by repair_id)::integer as repair_no,
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
    -- beside the position that is told to have failed, one renewed without a reason was renewed in passing
    p.reads_as = 'failure' and not p.reason_recorded and p.renews and p.failure_told as beside_failure,
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
    p.visit_id = c.first_visit_id or p.order_from - c.joined_on <= $joining_days as joining,
    coalesce(p.first_renewed_on <= p.fault_on, false) as ours,
    s.slot_no is not null as has_slot,
    s.slot_no,
    s.whole_car
from paired as p
inner join car as c using (vehicle_id)
left join slot as s
    on p.vehicle_id = s.vehicle_id and p.component = s.component and p.position = s.position
order by repair_no
