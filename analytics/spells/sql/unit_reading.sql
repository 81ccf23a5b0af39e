-- One row per : line of a repair that has several, ranked by what it says of the repair (rules 12, 13)
-- Reads       : unit_line, line, told_line
-- Parameters  : none
-- Returns     : repair_no INTEGER
--             : line_key INTEGER
--             : position VARCHAR
--             : window_no INTEGER
--             : slot_no INTEGER
--             : whole_car BOOLEAN
--             : position_inferred BOOLEAN
--             : named BOOLEAN
--             : passing BOOLEAN
--             : fault_on DATE
--             : closed_on DATE
--             : renews BOOLEAN
--             : modified BOOLEAN
--             : action VARCHAR
--             : part_no VARCHAR
--             : removed_part_no VARCHAR
--             : part_origin VARCHAR
--             : quantity DOUBLE, 0 where no part went in or came back
--             : location VARCHAR
--             : came_for BOOLEAN
--             : line_no BIGINT
--             : part_used BOOLEAN
--             : part_rank INTEGER
--             : reads_as VARCHAR
--             : reason_recorded BOOLEAN
--             : strength INTEGER, 1 = strongest reason
--             : renewing INTEGER, the smaller the more renewing
-- Order       : none

with shared as (

    select repair_no
    from unit_line
    group by repair_no
    having count(*) > 1

)

select
    u.repair_no,
    u.line_key,
    u.position,
    u.window_no,
    u.slot_no,
    u.whole_car,
    u.position_inferred,
    u.named,
    u.passing,
    l.fault_on,
    l.closed_on,
    l.renews,
    l.modified and not u.passing as modified,
    l.action,
    l.part_no,
    l.removed_part_no,
    l.part_origin,
    case when not u.passing and (l.part_used or l.quantity < 0) then l.quantity else 0 end as quantity,
    l.location,
    l.came_for and not u.passing as came_for,
    l.line_no,
    l.part_used,
    t.part_rank,
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
semi join shared using (repair_no)
inner join line as l using (line_key)
inner join told_line as t using (line_key)
