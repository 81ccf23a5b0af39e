-- One row per : event at a position of a car: repairs whose orders were open at once are one
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
--             : unit_no BIGINT, of the unit it concerns; the next one is fitted by an event that renews
--             : answered BOOLEAN, the unit had a fault before: it answers once (rule 10)
--             : open_fault BOOLEAN, a fault found and left was waiting (rule 11)
-- Order       : none

with grouped as (

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
    group by slot_no, event_no

),

of_unit as (

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
        modified and not renews and not is_fault as modifies,
        1 + count(*) filter (where renews) over (
            partition by slot_no
            order by event_no
            rows between unbounded preceding and 1 preceding
        ) as unit_no
    from grouped

)

select
    *,
    coalesce(bool_or(is_fault) over earlier, false) as answered,
    -- whatever was done last before: a fault that was left is still there
    coalesce(last_value(case when does then false when reads_as = 'found at inspection' then true end ignore nulls)
        over earlier, false) as open_fault
from of_unit
window earlier as (
    partition by slot_no, unit_no
    order by event_no
    rows between unbounded preceding and 1 preceding
)
