-- One row per : stretch of a unit's life, from fitting, from joining or from a modification on
-- Reads       : fitting, slot, car, stretch_end, slot_event
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR
--             : unit_no BIGINT, 1 = first known
--             : stretch_no BIGINT
--             : told_by VARCHAR, order, papers, built (in care since new) or nobody
--             : began_on DATE, hand-over, joining or told day
--             : began_event BIGINT, event_no of the fitting or modification
--             : start_line VARCHAR
--             : start_order VARCHAR
--             : start_fault_on DATE, day the car came in for it
--             : part_no VARCHAR
--             : part_origin VARCHAR
--             : position_inferred BOOLEAN
-- Order       : vehicle_id, component, position, unit_no, stretch_no

with last_papers as (

    select
        vehicle_id,
        component,
        position,
        max(fitted_on) as fitted_on,
        first(part_no order by fitted_on desc, part_no) as part_no
    from fitting
    where fate = 'used' and fitted_on <= joined_on
    group by vehicle_id, component, position

)

select
    s.vehicle_id,
    s.component,
    s.position,
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
left join last_papers as p using (vehicle_id, component, position)
union all
select
    vehicle_id,
    component,
    position,
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
    select * exclude (stretch_no), stretch_no from stretch_end where modifies
    union all by name
    select * from slot_event where renews
)
order by vehicle_id, component, position, unit_no, stretch_no
