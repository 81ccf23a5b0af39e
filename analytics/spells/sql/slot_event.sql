-- One row per : event at a position of a car: repairs whose orders were open at once are one
-- Reads       : slot_step
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR
--             : event_no BIGINT, 1, 2, 3 at its position
--             : from_papers BOOLEAN
--             : visit_day DATE
--             : fault_on DATE
--             : closed_on DATE
--             : reads_as VARCHAR, the strongest
--             : reason_recorded BOOLEAN
--             : does BOOLEAN, more was done than looking
--             : renews BOOLEAN
--             : joining BOOLEAN
--             : end_line VARCHAR, line of the strongest reason
--             : end_order VARCHAR
--             : start_line VARCHAR, line that fitted the new unit or modified it
--             : start_order VARCHAR
--             : part_no VARCHAR, of the new unit
--             : removed_part_no VARCHAR
--             : part_origin VARCHAR, of the new unit
--             : location VARCHAR
--             : position_inferred BOOLEAN
--             : is_fault BOOLEAN, failure, found at inspection or consequence
--             : modifies BOOLEAN, the unit becomes one of another variant, neither failed nor renewed
--             : unit_no BIGINT, of the unit it concerns; the next one is fitted by an event that renews
--             : answered BOOLEAN, the unit had a fault before: it answers once (rule 10)
--             : open_fault BOOLEAN, a fault found and left was waiting (rule 11)
-- Order       : vehicle_id, component, position, event_no

with events as (

    select
        vehicle_id,
        component,
        position,
        event_no,
        bool_and(repair_id is null) as from_papers,
        min(visit_day) as visit_day,
        min(fault_on) as fault_on,
        max(closed_on) as closed_on,
        first(reads_as order by strength, closed_on, repair_id) as reads_as,
        first(reason_recorded order by strength, closed_on, repair_id) as reason_recorded,
        bool_or(does) as does,
        bool_or(renews) as renews,
        bool_or(modified) as modified,
        bool_or(joining) as joining,
        first(line_id order by strength, closed_on, repair_id) as end_line,
        first(order_id order by strength, closed_on, repair_id) as end_order,
        first(line_id order by not renews, not modified, closed_on desc, repair_id) as start_line,
        first(order_id order by not renews, not modified, closed_on desc, repair_id) as start_order,
        first(part_no order by not renews, not modified, closed_on desc, repair_id) as part_no,
        first(removed_part_no order by removed_part_no is null, not renews, closed_on, repair_id) as removed_part_no,
        first(part_origin order by not renews, not modified, closed_on desc, repair_id) as part_origin,
        first(location order by location is null, strength, closed_on, repair_id) as location,
        bool_and(position_inferred) as position_inferred
    from slot_step
    group by vehicle_id, component, position, event_no

),

of_unit as (

    select
        * exclude (modified),
        reads_as in ('failure', 'found at inspection', 'consequence') as is_fault,
        modified and not renews and not is_fault as modifies,
        1 + count(*) filter (where renews) over (
            partition by vehicle_id, component, position
            order by event_no
            rows between unbounded preceding and 1 preceding
        ) as unit_no
    from events

)

select
    *,
    coalesce(bool_or(is_fault) over earlier, false) as answered,
    -- whatever was done last before: a fault that was left is still there
    coalesce(last_value(case when does then false when reads_as = 'found at inspection' then true end ignore nulls)
        over earlier, false) as open_fault
from of_unit
window earlier as (
    partition by vehicle_id, component, position, unit_no
    order by event_no
    rows between unbounded preceding and 1 preceding
)
order by vehicle_id, component, position, event_no
