-- One row per : repair at a position of a car, or later fitting told by papers, with the event it belongs to
-- Reads       : repair, fitting
-- Parameters  : none
-- Returns     : slot_no INTEGER
--             : step_no INTEGER, repair_no; of a fitting told by papers its number below 0
--             : repair_no INTEGER, null where papers tell
--             : visit_day DATE
--             : fault_on DATE
--             : closed_on DATE
--             : reads_as VARCHAR
--             : reason_recorded BOOLEAN
--             : does BOOLEAN, more was done than looking
--             : renews BOOLEAN
--             : modified BOOLEAN
--             : joining BOOLEAN
--             : is_used BOOLEAN, a used part was fitted
--             : position_inferred BOOLEAN
--             : event_no INTEGER, 1, 2, 3 at its position
-- Order       : none

with steps as (

    select
        r.slot_no,
        r.repair_no as step_no,
        r.repair_no,
        r.visit_day,
        r.fault_on,
        r.closed_on,
        r.reads_as,
        r.reason_recorded,
        r.action not in ('inspected', 'none') as does,
        r.renews,
        r.modified,
        r.joining,
        coalesce(r.part_origin = 'used', false) as is_used,
        r.position_inferred
    from repair as r
    where r.slot_no is not null and not r.whole_car
    union all by name
    select
        slot_no,
        step_no,
        fitted_on as visit_day,
        fitted_on as fault_on,
        fitted_on as closed_on,
        'changed in passing' as reads_as,
        true as reason_recorded,
        true as does,
        true as renews,
        false as modified,
        false as joining,
        false as is_used,
        false as position_inferred
    from fitting
    where fate = 'used' and fitted_on > joined_on

),

reached as (

    select
        *,
        max(closed_on) over (
            partition by slot_no
            order by fault_on, closed_on, repair_no
            rows between unbounded preceding and 1 preceding
        ) as reached_on
    from steps

)

select
    * exclude (reached_on),
    (count(*) filter (where reached_on is null or fault_on >= reached_on) over (
        partition by slot_no
        order by fault_on, closed_on, repair_no
        rows between unbounded preceding and current row
    ))::integer as event_no
from reached
