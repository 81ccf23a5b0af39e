-- One row per : line at its position, ranked by what it says of the repair (rules 12, 13)
-- Reads       : unit_line, line, told_line
-- Parameters  : none
-- Returns     : line_id VARCHAR
--             : order_id VARCHAR
--             : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR
--             : position_inferred BOOLEAN
--             : passing BOOLEAN
--             : visit_id VARCHAR
--             : visit_day DATE
--             : fault_on DATE
--             : closed_on DATE
--             : order_from DATE
--             : order_to DATE
--             : renews BOOLEAN
--             : modified BOOLEAN
--             : action VARCHAR
--             : part_no VARCHAR
--             : removed_part_no VARCHAR
--             : part_origin VARCHAR
--             : fitted_instead_of VARCHAR
--             : quantity DOUBLE, 0 where no part went in or came back
--             : location VARCHAR
--             : came_for BOOLEAN
--             : line_no BIGINT
--             : part_used BOOLEAN
--             : part_rank INTEGER
--             : is_shared BOOLEAN, the repair has another line
--             : reads_as VARCHAR
--             : reason_recorded BOOLEAN
--             : strength INTEGER, 1 = strongest reason
--             : renewing INTEGER, the smaller the more renewing
-- Order       : none

with shared as (

    select
        order_id,
        component,
        position
    from unit_line
    group by order_id, component, position
    having count(*) > 1

)

select
    u.*,
    l.visit_id,
    l.visit_day,
    l.fault_on,
    l.closed_on,
    l.order_from,
    l.order_to,
    l.renews,
    l.modified and not u.passing as modified,
    l.action,
    l.part_no,
    l.removed_part_no,
    l.part_origin,
    l.fitted_instead_of,
    case when not u.passing and (l.part_used or l.quantity < 0) then l.quantity else 0 end as quantity,
    l.location,
    l.came_for and not u.passing as came_for,
    l.line_no,
    l.part_used,
    t.part_rank,
    s.order_id is not null as is_shared,
    case when u.passing then 'changed in passing' else l.reads_as end as reads_as,
    u.passing or l.reason <> 'not recorded' as reason_recorded,
    case
        when not reason_recorded then 9
        else list_position([
            'failure', 'found at inspection', 'consequence', 'accident', 'changed in passing', 'planned',
            'no fault found'
        ], case when u.passing then 'changed in passing' else l.reads_as end)
    end as strength,
    case when l.renews then 0 else 20 end
    + list_position([
        'replaced', 'exchanged', 'overhauled', 'modified', 'resealed', 'repaired', 'adjusted', 'cleaned',
        'refitted', 'inspected', 'none'
    ], l.action) as renewing
from unit_line as u
inner join line as l using (line_id)
inner join told_line as t using (line_id)
left join shared as s
    on u.order_id = s.order_id and u.component = s.component and u.position = s.position
