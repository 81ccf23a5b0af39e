-- One row per : event at a position of a car that is several repairs or fittings, because their orders were open at once
-- Reads       : slot_step, repair
-- Parameters  : none
-- Returns     : slot_no INTEGER
--             : event_no INTEGER
--             : from_papers BOOLEAN
--             : visit_day DATE
--             : fault_on DATE
--             : closed_on DATE
--             : does BOOLEAN, more was done than looking
--             : renews BOOLEAN
--             : modified BOOLEAN
--             : joining BOOLEAN
--             : position_inferred BOOLEAN
--             : reads_as VARCHAR, the strongest
--             : reason_recorded BOOLEAN
--             : end_step INTEGER, step_no of the strongest reason
--             : start_step INTEGER, step_no that fitted the new unit or modified it
--             : is_used BOOLEAN, the new unit is a used part
--             : removed_step INTEGER, step_no that tells what was taken out
--             : place_step INTEGER, step_no that tells the place
-- Order       : none

with several as (

    select
        slot_no,
        event_no
    from slot_step
    group by slot_no, event_no
    having count(*) > 1

),

steps as (

    select
        s.*,
        case when s.reason_recorded then list_position([
            'failure', 'found at inspection', 'consequence', 'accident', 'changed in passing', 'planned',
            'no fault found'
        ], s.reads_as) else 9 end as strength,
        r.removed_part_no,
        r.location
    from slot_step as s
    semi join several using (slot_no, event_no)
    left join repair as r using (repair_no)

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
        first((reads_as, reason_recorded, step_no) order by strength, closed_on, repair_no) as told,
        first((step_no, is_used) order by not renews, not modified, closed_on desc, repair_no) as fitted,
        first(step_no order by removed_part_no is null, not renews, closed_on, repair_no) as removed_step,
        first(step_no order by location is null, strength, closed_on, repair_no) as place_step
    from steps
    group by slot_no, event_no

)

select
    * exclude (told, fitted, removed_step, place_step),
    told[1] as reads_as,
    told[2] as reason_recorded,
    told[3] as end_step,
    fitted[1] as start_step,
    fitted[2] as is_used,
    removed_step,
    place_step
from grouped
