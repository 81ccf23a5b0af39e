-- One row per : event at a position of a car, and the unit it concerns
-- Reads       : slot_step, slot_merged
-- Parameters  : none
-- Returns     : slot_no INTEGER
--             : event_no INTEGER, 1, 2, 3 at its position
--             : from_papers BOOLEAN
--             : visit_day DATE
--             : fault_on DATE
--             : closed_on DATE
--             : does BOOLEAN, more was done than looking
--             : renews BOOLEAN
--             : joining BOOLEAN
--             : position_inferred BOOLEAN
--             : reads_as VARCHAR, the strongest
--             : reason_recorded BOOLEAN
--             : end_step INTEGER, step_no of the strongest reason
--             : start_step INTEGER, step_no that fitted the new unit or modified it
--             : is_used BOOLEAN, the new unit is a used part
--             : removed_step INTEGER, step_no that tells what was taken out
--             : place_step INTEGER, step_no that tells the place
--             : is_fault BOOLEAN, failure, found at inspection or consequence
--             : modifies BOOLEAN, the unit becomes one of another variant, neither failed nor renewed
--             : unit_no INTEGER, of the unit it concerns; the next one is fitted by an event that renews
--             : answered BOOLEAN, the unit had a fault before: it answers once (rule 10)
--             : open_fault BOOLEAN, a fault found and left was waiting (rule 11)
-- Order       : none

with told as (

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
        reads_as,
        reason_recorded,
        step_no as end_step,
        step_no as start_step,
        is_used,
        step_no as removed_step,
        step_no as place_step
    from slot_step
    anti join slot_merged using (slot_no, event_no)
    union all by name
    select * from slot_merged

),

read as (

    select
        * exclude (modified),
        reads_as in ('failure', 'found at inspection', 'consequence') as is_fault,
        modified and not renews and not is_fault as modifies
    from told

),

before as (

    select
        *,
        (1 + count(*) filter (where renews) over earlier)::integer as unit_no,
        -- 0: none
        coalesce(max(event_no) filter (where renews) over earlier, 0) as last_renewal,
        coalesce(max(event_no) filter (where is_fault) over earlier, 0) as last_fault,
        coalesce(max(event_no) filter (where does) over earlier, 0) as last_deed,
        coalesce(max(event_no) filter (where reads_as = 'found at inspection' and not does) over earlier, 0) as last_left
    from read
    window earlier as (
        partition by slot_no
        order by event_no
        rows between unbounded preceding and 1 preceding
    )

)

select
    * exclude (last_renewal, last_fault, last_deed, last_left),
    last_fault > last_renewal as answered,
    last_left > greatest(last_renewal, last_deed) as open_fault
from before
