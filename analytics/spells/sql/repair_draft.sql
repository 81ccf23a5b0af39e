-- One row per : order, component and position: one repair, before it is held against others (rules 12, 13, 16)
-- Reads       : unit_line, line, repair_joined
-- Parameters  : none
-- Returns     : repair_no INTEGER, 1, 2, 3 by order, component and position
--             : line_id VARCHAR, representative line; of a unit renewed in passing the line of its part
--             : position VARCHAR
--             : window_no INTEGER, null where the component is not on the car
--             : slot_no INTEGER, null where the car has no such position
--             : whole_car BOOLEAN
--             : position_inferred BOOLEAN
--             : named BOOLEAN, some line names the position
--             : fault_on DATE
--             : closed_on DATE
--             : reads_as VARCHAR, the strongest
--             : reason_recorded BOOLEAN
--             : action VARCHAR, the most renewing
--             : renews BOOLEAN
--             : modified BOOLEAN
--             : part_no VARCHAR
--             : part_used BOOLEAN
--             : removed_part_no VARCHAR
--             : part_origin VARCHAR
--             : quantity DOUBLE, of part_no; 0 where no part went in
--             : location VARCHAR
--             : came_for BOOLEAN
--             : lines BIGINT, 0 for a unit renewed in passing without a line of its own
--             : order_no INTEGER
--             : order_id VARCHAR
--             : visit_id VARCHAR
--             : visit_day DATE
--             : vehicle_id VARCHAR
--             : component VARCHAR
--             : order_from DATE
--             : order_to DATE
-- Order       : none

-- most repairs are told by one line alone
select
    u.repair_no,
    l.line_id,
    u.position,
    u.window_no,
    u.slot_no,
    u.whole_car,
    u.position_inferred,
    u.named,
    l.fault_on,
    l.closed_on,
    case when u.passing then 'changed in passing' else l.reads_as end as reads_as,
    u.passing or l.reason <> 'not recorded' as reason_recorded,
    l.action,
    l.renews,
    l.modified and not u.passing as modified,
    l.part_no,
    l.part_used and not u.passing as part_used,
    l.removed_part_no,
    l.part_origin,
    case when l.part_used and not u.passing then greatest(l.quantity, 0) else 0 end as quantity,
    l.location,
    l.came_for and not u.passing as came_for,
    (not u.passing)::bigint as lines,
    l.order_no,
    l.order_id,
    l.visit_id,
    l.visit_day,
    l.vehicle_id,
    l.component,
    l.order_from,
    l.order_to
from unit_line as u
inner join line as l using (line_key)
anti join repair_joined using (repair_no)
union all by name
select
    j.* exclude (line_key),
    l.line_id,
    l.order_no,
    l.order_id,
    l.visit_id,
    l.visit_day,
    l.vehicle_id,
    l.component,
    l.order_from,
    l.order_to
from repair_joined as j inner join line as l using (line_key)
