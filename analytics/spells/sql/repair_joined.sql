-- One row per : repair told by several lines: one repair (rules 12, 13, 16)
-- Reads       : unit_reading
-- Parameters  : none
-- Returns     : repair_no INTEGER
--             : position VARCHAR
--             : window_no INTEGER
--             : slot_no INTEGER
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
--             : line_key INTEGER, representative line; of a unit renewed in passing the line of its part
--             : lines BIGINT, 0 for a unit renewed in passing without a line of its own
-- Order       : none

with lines as (

    select
        *,
        first_value(part_no) over (
            partition by repair_no
            order by passing, not renews, not part_used, part_no is null, part_rank, line_no, line_key
        ) as unit_part_no
    from unit_reading

)

select
    repair_no,
    min(position) as position,
    min(window_no) as window_no,
    min(slot_no) as slot_no,
    bool_or(whole_car) as whole_car,
    bool_and(position_inferred) as position_inferred,
    bool_or(named) as named,
    min(fault_on) as fault_on,
    max(closed_on) as closed_on,
    first(reads_as order by strength, line_no, line_key) as reads_as,
    bool_or(reason_recorded) as reason_recorded,
    first(action order by renewing, line_no, line_key) as action,
    bool_or(renews) as renews,
    bool_or(modified) as modified,
    first(unit_part_no order by passing, line_no, line_key) as part_no,
    bool_or(part_used and not passing) as part_used,
    first(removed_part_no order by removed_part_no is null, passing, line_no, line_key) as removed_part_no,
    first(part_origin order by passing, not renews, part_no is distinct from unit_part_no, line_no, line_key) as part_origin,
    greatest(fsum(case when part_no is distinct from unit_part_no then 0 else quantity end), 0) as quantity,
    first(location order by location is null, passing, strength, line_no, line_key) as location,
    bool_or(came_for) as came_for,
    first(line_key order by passing, strength, renewing, line_no, line_key) as line_key,
    count(*) filter (where not passing) as lines
from lines
group by repair_no
