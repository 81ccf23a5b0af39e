-- One row per : line at its position, ranked by what it says of the repair (rules 12, 13)
-- Reads       : unit_line, line, told_line
-- Parameters  : none
-- Returns     : line_id VARCHAR
--             : order_id VARCHAR
--             : vehicle_id VARCHAR
--             : visit_id VARCHAR
--             : visit_day DATE
--             : component VARCHAR
--             : position VARCHAR
--             : position_inferred BOOLEAN
--             : passing BOOLEAN
--             : fault_on DATE
--             : closed_on DATE
--             : order_from DATE
--             : order_to DATE
--             : reads_as VARCHAR
--             : reason_recorded BOOLEAN
--             : strength INTEGER, 1 = strongest reason; a reason that is not recorded gives way to any other
--             : renewing INTEGER, 1 = most renewing action
--             : renews BOOLEAN
--             : action VARCHAR
--             : unit_part_no VARCHAR, part of the repair's unit
-- Order       : order_id, component, position, line_id

with read as (

    select
        u.*,
        l.visit_id,
        l.visit_day,
        l.fault_on,
        l.closed_on,
        l.order_from,
        l.order_to,
        case when u.passing then 'changed in passing' else l.reads_as end as reads_as,
        u.passing or l.reason <> 'not recorded' as reason_recorded,
        l.renews,
        l.action,
        l.part_no,
        l.part_used,
        l.line_no,
        t.part_rank
    from unit_line as u
    inner join line as l using (line_id)
    inner join told_line as t using (line_id)

),

ranked as (

    select
        *,
        case
            when not reason_recorded then 9
            else list_position([
                'failure', 'found at inspection', 'consequence', 'accident', 'changed in passing', 'planned',
                'no fault found'
            ], reads_as)
        end as strength,
        case when renews then 0 else 20 end
        + list_position([
            'replaced', 'exchanged', 'overhauled', 'modified', 'resealed', 'repaired', 'adjusted', 'cleaned',
            'refitted', 'inspected', 'none'
        ], action) as renewing
    from read

)

select
    line_id,
    order_id,
    vehicle_id,
    visit_id,
    visit_day,
    component,
    position,
    position_inferred,
    passing,
    fault_on,
    closed_on,
    order_from,
    order_to,
    reads_as,
    reason_recorded,
    strength,
    renewing,
    renews,
    action,
    first_value(part_no) over (
        partition by order_id, component, position
        order by passing, not renews, not part_used, part_no is null, part_rank, line_no, line_id
    ) as unit_part_no
from ranked
order by order_id, component, position, line_id
