-- One row per : unit that something happened to, with its state after that (rule 24)
-- Reads       : slot_event
-- Parameters  : none
-- Returns     : slot_no INTEGER
--             : unit_no BIGINT
--             : state VARCHAR, fault found and left, after repair or running
-- Order       : none

with history as (

    select
        slot_no,
        unit_no,
        bool_or(is_fault) as failed,
        arg_max(
            not does, event_no
        ) filter (where does or reads_as = 'found at inspection') as left_as_found
    from slot_event
    group by slot_no, unit_no

)

select
    slot_no,
    unit_no::bigint as unit_no,
    case
        when left_as_found then 'fault found and left'
        when failed then 'after repair'
        else 'running'
    end as state
from history
