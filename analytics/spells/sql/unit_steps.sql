-- One row per : event at a position, as numbers
-- Reads       : unit_event
-- Parameters  : none
-- Returns     : group_no BIGINT
--             : order_rank BIGINT
--             : position_no BIGINT
--             : positions BIGINT
--             : renews BOOLEAN
--             : units BIGINT
--             : closed_day BIGINT
-- Order       : event_no

select
    group_no,
    order_rank,
    position_no,
    positions,
    renews,
    units,
    closed_day
from unit_event
order by event_no
