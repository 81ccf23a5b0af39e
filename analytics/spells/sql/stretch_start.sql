-- One row per : stretch of a unit's life, from fitting, from joining or from a modification on
-- Reads       : fitting, slot, car, stretch_end, slot_event
-- Parameters  : none
-- Returns     : stretch_id BIGINT, slot_no, unit_no and stretch_no in one number that rises in this order
--             : slot_no INTEGER
--             : unit_no BIGINT, 1 = first known
--             : stretch_no BIGINT, 1, 2, 3 of its unit, without a gap
--             : told_by VARCHAR, order, papers, built (in care since new) or nobody
--             : began_on DATE, hand-over, joining or told day
--             : began_event BIGINT, event_no of the fitting or modification
--             : start_line VARCHAR
--             : start_order VARCHAR
--             : start_fault_on DATE, day the car came in for it
--             : part_no VARCHAR
--             : part_origin VARCHAR
--             : position_inferred BOOLEAN
-- Order       : none

with last_papers as (

    select
        slot_no,
        max(fitted_on) as fitted_on,
        first(part_no order by fitted_on desc, part_no) as part_no
    from fitting
    where fate = 'used' and fitted_on <= joined_on
    group by slot_no

),

starts as (

    select
        s.slot_no,
        1 as unit_no,
        1 as stretch_no,
        case when p.fitted_on is not null then 'papers' when c.since_new then 'built' else 'nobody' end as told_by,
        coalesce(p.fitted_on, case when c.since_new then least(c.built_on, c.joined_on) end, c.joined_on) as began_on,
        null as began_event,
        null as start_line,
        null as start_order,
        null as start_fault_on,
        p.part_no,
        null as part_origin,
        false as position_inferred
    from slot as s
    inner join car as c using (vehicle_id)
    left join last_papers as p using (slot_no)
    union all
    select
        slot_no,
        case when renews then unit_no + 1 else unit_no end as unit_no,
        case when renews then 1 else stretch_no + 1 end as stretch_no,
        case when from_papers then 'papers' else 'order' end as told_by,
        closed_on as began_on,
        event_no as began_event,
        start_line,
        start_order,
        fault_on as start_fault_on,
        part_no,
        part_origin,
        position_inferred
    from (
        select * from stretch_end where modifies
        union all by name
        select * from slot_event where renews
    )

)

select
    slot_no * 10000000000 + unit_no * 100000 + stretch_no as stretch_id,
    *
from starts
