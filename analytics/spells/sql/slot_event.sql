-- One row per : event at a position of a car: repairs whose orders were open at once are one
-- Reads       : slot_told
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

-- only numbers go through the windows
with counted as (

    select
        slot_no,
        event_no,
        is_fault,
        case when does then false when reads_as = 'found at inspection' then true end as is_left,
        1 + count(*) filter (where renews) over (
            partition by slot_no
            order by event_no
            rows between unbounded preceding and 1 preceding
        ) as unit_no
    from slot_told

),

before as (

    select
        slot_no,
        event_no,
        unit_no,
        coalesce(bool_or(is_fault) over earlier, false) as answered,
        -- whatever was done last before: a fault that was left is still there
        coalesce(last_value(is_left ignore nulls) over earlier, false) as open_fault
    from counted
    window earlier as (
        partition by slot_no, unit_no
        order by event_no
        rows between unbounded preceding and 1 preceding
    )

)

select *
from slot_told
inner join before using (slot_no, event_no)
