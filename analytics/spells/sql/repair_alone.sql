-- One row per : repair told by one line alone (rules 12, 13)
-- Reads       : unit_reading
-- Parameters  : none
-- Returns     : order_id VARCHAR
--             : visit_id VARCHAR
--             : visit_day DATE
--             : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR
--             : position_inferred BOOLEAN
--             : fault_on DATE
--             : closed_on DATE
--             : order_from DATE
--             : order_to DATE
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
--             : quantity DOUBLE, of part_no; 0 where no part went in
--             : location VARCHAR
--             : came_for BOOLEAN
--             : line_id VARCHAR
--             : lines BIGINT, 0 for a unit renewed in passing without a line of its own
-- Order       : none

select
    order_id,
    visit_id,
    visit_day,
    vehicle_id,
    component,
    position,
    position_inferred,
    fault_on,
    closed_on,
    order_from,
    order_to,
    reads_as,
    reason_recorded,
    action,
    renews,
    modified,
    part_no,
    part_used and not passing as part_used,
    removed_part_no,
    part_origin,
    fitted_instead_of,
    greatest(quantity, 0) as quantity,
    location,
    came_for,
    line_id,
    (not passing)::bigint as lines
from unit_reading
where not is_shared
