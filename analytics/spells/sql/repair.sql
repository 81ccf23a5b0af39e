-- One row per : order, component and position: one repair (rules 12, 17, 21)
-- Reads       : repair_draft, joining_repair, beside_failure
-- Parameters  : none
-- Returns     : repair_no INTEGER, 1, 2, 3 by order, component and position
--             : line_id VARCHAR, representative line; of a unit renewed in passing the line of its part
--             : position VARCHAR
--             : window_no INTEGER, null where the component is not on the car
--             : slot_no INTEGER
--             : whole_car BOOLEAN, the component is shown for the whole car
--             : position_inferred BOOLEAN, rule 16 or a sister line told it
--             : named BOOLEAN, some line names the position
--             : fault_on DATE
--             : closed_on DATE
--             : reads_as VARCHAR
--             : reason_recorded BOOLEAN
--             : action VARCHAR
--             : renews BOOLEAN
--             : modified BOOLEAN
--             : part_no VARCHAR
--             : part_used BOOLEAN
--             : removed_part_no VARCHAR
--             : part_origin VARCHAR
--             : quantity DOUBLE
--             : location VARCHAR
--             : came_for BOOLEAN
--             : lines BIGINT
--             : order_no INTEGER
--             : order_id VARCHAR
--             : visit_id VARCHAR
--             : visit_day DATE
--             : vehicle_id VARCHAR
--             : component VARCHAR
--             : order_from DATE, the order was opened
--             : order_to DATE, the order was handed over
--             : has_slot BOOLEAN, the car has this position
--             : beside_failure BOOLEAN, no reason told, renewed beside a told failure
--             : joining BOOLEAN, on the first visit or on an order opened soon after it
--             : ours BOOLEAN, joining, but an earlier order of ours had renewed the unit
-- Order       : none

select
    d.* replace (case when b.repair_no is not null then 'changed in passing' else d.reads_as end as reads_as),
    d.slot_no is not null as has_slot,
    b.repair_no is not null as beside_failure,
    j.repair_no is not null as joining,
    coalesce(j.ours, false) as ours
from repair_draft as d
left join beside_failure as b using (repair_no)
left join joining_repair as j using (repair_no)
