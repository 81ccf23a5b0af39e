-- One row per : repair line of a known car, closed by the as-of day, as the rules read it (rules 1, 8, 9, 13)
-- Reads       : repair_line, order_line, told_line, order_visit, renewing_action
-- Parameters  : none
-- Returns     : line_id VARCHAR
--             : line_key INTEGER, 1, 2, 3 by line_id
--             : order_no INTEGER
--             : order_id VARCHAR
--             : record_id VARCHAR
--             : line_no BIGINT
--             : vehicle_id VARCHAR
--             : series VARCHAR
--             : opened_on DATE
--             : closed_on DATE
--             : fault_on DATE
--             : order_from DATE, first fault_on of the order
--             : order_to DATE, its hand-over
--             : visit_id VARCHAR
--             : visit_day DATE, its first
--             : component VARCHAR, recorded or told by the part number
--             : position VARCHAR, as recorded
--             : location VARCHAR
--             : symptom VARCHAR
--             : finding VARCHAR
--             : cause VARCHAR
--             : came_for BOOLEAN
--             : action VARCHAR
--             : reason VARCHAR, as recorded, else not recorded
--             : reads_as VARCHAR, the reason after the last row of rule 8
--             : quantity DOUBLE, parts; 1 where empty
--             : net_quantity DOUBLE, less credits of the same part on the order
--             : renews BOOLEAN
--             : modified BOOLEAN
--             : part_no VARCHAR
--             : removed_part_no VARCHAR
--             : part_origin VARCHAR
--             : fitted_instead_of VARCHAR
--             : part_used BOOLEAN, a part went in
--             : labour_minutes DOUBLE
--             : measured DOUBLE
--             : measured_unit VARCHAR
--             : odometer DOUBLE
--             : odometer_unit VARCHAR
--             : inferred VARCHAR, columns filled in, with ;
-- Order       : none, a sort of rows so wide would cost more than most that reads them

select
    r.line_id,
    o.line_key,
    o.order_no,
    o.order_id,
    r.record_id,
    r.line_no,
    r.vehicle_id,
    o.series,
    o.opened_on,
    r.closed_on,
    o.fault_on,
    o.order_from,
    o.order_to,
    v.visit_id,
    v.visit_day,
    t.component,
    r.position,
    r.location,
    r.symptom,
    r.finding,
    r.cause,
    r.came_for,
    t.action,
    t.reason,
    case
        when t.reason <> 'not recorded' then t.reason
        -- a check that says "good" is no failure, whatever else is left unsaid
        when t.action = 'inspected' and lower(trim(r.finding)) = 'good' then 'no fault found'
        when o.order_planned then 'changed in passing'
        else 'failure'
    end as reads_as,
    t.quantity,
    t.net_quantity,
    -- a replacement whose part was not used put no new unit in; an overhaul needs no part
    (t.action = 'overhauled' or a.action is not null or (t.action in ('replaced', 'exchanged') and t.net_quantity > 0))
        as renews,
    t.action = 'modified' as modified,
    r.part_no,
    r.removed_part_no,
    r.part_origin,
    r.fitted_instead_of,
    t.net_quantity > 0 and (r.part_no is not null or t.action in ('replaced', 'exchanged')) as part_used,
    r.labour_minutes,
    r.measured,
    r.measured_unit,
    r.odometer,
    r.odometer_unit,
    t.inferred
from repair_line as r
inner join order_line as o on r.rowid = o.row_no
inner join told_line as t on o.line_key = t.line_key
inner join order_visit as v on o.order_no = v.order_no
left join renewing_action as a on t.component = a.component and t.action = a.action
