-- One row per : event at a position of a car, before it is told which unit it concerns
-- Reads       : slot_step
-- Parameters  : none
-- Returns     : slot_no INTEGER
--             : event_no BIGINT, 1, 2, 3 at its position
--             : from_papers BOOLEAN
--             : visit_day DATE
--             : fault_on DATE
--             : closed_on DATE
--             : does BOOLEAN, more was done than looking
--             : renews BOOLEAN
--             : joining BOOLEAN
--             : position_inferred BOOLEAN
--             : removed_part_no VARCHAR
--             : location VARCHAR
--             : reads_as VARCHAR, the strongest
--             : reason_recorded BOOLEAN
--             : end_line VARCHAR, line of the strongest reason
--             : end_order VARCHAR
--             : start_line VARCHAR, line that fitted the new unit or modified it
--             : start_order VARCHAR
--             : part_no VARCHAR, of the new unit
--             : part_origin VARCHAR, of the new unit
--             : is_fault BOOLEAN, failure, found at inspection or consequence
--             : modifies BOOLEAN, the unit becomes one of another variant, neither failed nor renewed
-- Order       : none

-- most events are one repair
with several as (

    select
        slot_no,
        event_no
    from slot_step
    group by slot_no, event_no
    having count(*) > 1

),

grouped as (

    select
        slot_no,
        event_no,
        bool_and(repair_no is null) as from_papers,
        min(visit_day) as visit_day,
        min(fault_on) as fault_on,
        max(closed_on) as closed_on,
        bool_or(does) as does,
        bool_or(renews) as renews,
        bool_or(modified) as modified,
        bool_or(joining) as joining,
        bool_and(position_inferred) as position_inferred,
        first((reads_as, reason_recorded, line_id, order_id) order by strength, closed_on, repair_no) as told,
        first((line_id, order_id, part_no, part_origin) order by not renews, not modified, closed_on desc, repair_no)
            as fitted,
        first(removed_part_no order by removed_part_no is null, not renews, closed_on, repair_no) as removed_part_no,
        first(location order by location is null, strength, closed_on, repair_no) as location
    from slot_step
    semi join several using (slot_no, event_no)
    group by slot_no, event_no
    union all by name
    select
        slot_no,
        event_no,
        repair_no is null as from_papers,
        visit_day,
        fault_on,
        closed_on,
        does,
        renews,
        modified,
        joining,
        position_inferred,
        (reads_as, reason_recorded, line_id, order_id) as told,
        (line_id, order_id, part_no, part_origin) as fitted,
        removed_part_no,
        location
    from slot_step
    anti join several using (slot_no, event_no)

)

select
    * exclude (modified, told, fitted),
    told[1] as reads_as,
    told[2] as reason_recorded,
    told[3] as end_line,
    told[4] as end_order,
    fitted[1] as start_line,
    fitted[2] as start_order,
    fitted[3] as part_no,
    fitted[4] as part_origin,
    reads_as in ('failure', 'found at inspection', 'consequence') as is_fault,
    modified and not renews and not is_fault as modifies
from grouped
