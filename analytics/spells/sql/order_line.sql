-- One row per : repair line of a known car, closed by the as-of day (rules 1, 2, 6)
-- Reads       : repair_line, vehicles, order_part
-- Parameters  : as_of DATE, last day that counts
-- Returns     : line_id VARCHAR
--             : row_no BIGINT, its row in repair_line: joins numbers where names would be slow
--             : line_key INTEGER, 1, 2, 3 by line_id
--             : order_no INTEGER, 1, 2, 3 by order_id
--             : order_id VARCHAR, source, number and car; a suffix where the number starts again
--             : vehicle_id VARCHAR
--             : series VARCHAR
--             : opened_on DATE, own or the order's; null if neither is told
--             : fault_on DATE, opened_on else closed_on
--             : order_from DATE, first fault_on of the order
--             : order_to DATE, last closed_on of the order
--             : order_planned BOOLEAN, some line of the order is planned
--             : order_vague BOOLEAN, its days are told by a bare year or month
--             : opened_set_aside BOOLEAN, opened_on lay after closed_on
--             : order_part BIGINT, 1 = first use of the number
-- Order       : none

with lines as (

    select
        r.line_id,
        r.rowid as row_no,
        r.source,
        r.record_id,
        r.vehicle_id,
        v.series,
        r.closed_on,
        r.reason,
        r.inferred,
        coalesce(r.opened_on > r.closed_on, false) as opened_set_aside,
        case when r.opened_on <= r.closed_on then r.opened_on end as own_opened_on,
        coalesce(p.order_part, 1) as order_part
    from repair_line as r
    inner join vehicles as v using (vehicle_id)
    left join order_part as p using (line_id)
    where r.closed_on <= $as_of

),

orders as (

    select
        source,
        record_id,
        vehicle_id,
        order_part,
        -- a source holds no colon, so the first one ends it; a stroke within a name is doubled, one alone ends it
        case when source = '' and not contains(record_id, ':') then '' else source || ':' end
        || replace(record_id, '|', '||') || ' | ' || replace(vehicle_id, '|', '||')
        || case when order_part > 1 then ' | ' || order_part else '' end as order_id,
        min(own_opened_on) as opened_on,
        -- a line that does not say when it was opened takes the order's day, unless it was closed before that
        least(min(own_opened_on), min(closed_on) filter (where own_opened_on is null)) as order_from,
        max(closed_on) as order_to,
        coalesce(bool_or(reason = 'planned'), false) as order_planned,
        coalesce(bool_or(contains(inferred, 'closed_on') or contains(inferred, 'opened_on')), false) as order_vague
    from lines
    group by source, record_id, vehicle_id, order_part

),

numbered as (

    select
        *,
        row_number() over (order by order_id)::integer as order_no
    from orders

)

select
    l.line_id,
    l.row_no,
    k.line_key,
    o.order_no,
    o.order_id,
    vehicle_id,
    l.series,
    coalesce(l.own_opened_on, case when o.opened_on <= l.closed_on then o.opened_on end) as opened_on,
    coalesce(l.own_opened_on, case when o.opened_on <= l.closed_on then o.opened_on end, l.closed_on) as fault_on,
    o.order_from,
    o.order_to,
    o.order_planned,
    o.order_vague,
    l.opened_set_aside,
    order_part
from lines as l
-- numbered without what else a line tells, which a sort would carry along
inner join (select row_no, (row_number() over (order by line_id))::integer as line_key from lines) as k using (row_no)
inner join numbered as o using (source, record_id, vehicle_id, order_part)
