-- One row per : repair line of a number that its car has over a longer time, and which use of it this is (rule 5)
-- Reads       : repair_line
-- Parameters  : as_of DATE, last day that counts
--             : renumber_days INTEGER, lines of one number further apart are two orders
-- Returns     : line_id VARCHAR
--             : order_part BIGINT, 1 = first use of the number
-- Order       : none

-- a number used again years later must not become one stay of years
with spread as (

    select
        source,
        record_id,
        vehicle_id
    from repair_line
    where closed_on <= $as_of
    group by source, record_id, vehicle_id
    having max(closed_on) - min(closed_on) > $renumber_days

),

gaps as (

    select
        line_id,
        source,
        record_id,
        vehicle_id,
        closed_on,
        line_no,
        closed_on - lag(closed_on) over number_of_car as days_since_line_before
    from repair_line
    semi join spread using (source, record_id, vehicle_id)
    where closed_on <= $as_of
    window number_of_car as (partition by source, record_id, vehicle_id order by closed_on, line_no, line_id)

)

select
    line_id,
    1 + count(*) filter (where days_since_line_before > $renumber_days) over (
        partition by source, record_id, vehicle_id
        order by closed_on, line_no, line_id
    ) as order_part
from gaps
