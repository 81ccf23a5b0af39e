-- One row per : repair line with a component, and the position it names among those of the car (rules 12, 15)
-- Reads       : line, slot_draft
-- Parameters  : none
-- Returns     : line_id VARCHAR
--             : order_id VARCHAR
--             : vehicle_id VARCHAR
--             : component VARCHAR
--             : positions BIGINT, how many the car has; null where the component is not on the car
--             : position VARCHAR, null where it must be filled in
--             : filled VARCHAR, null, order where a sister line told it
--             : renews BOOLEAN
--             : concerns BOOLEAN, the line concerns a unit and not only a look at all of them
-- Order       : none

with cars as (

    select
        vehicle_id,
        component,
        position as first_position,
        positions
    from slot_draft
    where position_no = 1

),

named as (

    select
        l.line_id,
        l.order_id,
        l.vehicle_id,
        l.component,
        c.positions,
        case
            when c.positions is null then coalesce(l.position, 'only')
            when c.positions = 1 then c.first_position
            else s.position
        end as position,
        l.renews,
        l.renews or l.modified or l.reads_as in ('failure', 'found at inspection', 'consequence') as concerns
    from line as l
    left join cars as c using (vehicle_id, component)
    left join slot_draft as s
        on l.vehicle_id = s.vehicle_id and l.component = s.component and l.position = s.position
    where l.component is not null

),

-- of most orders every line names its position
sisters as (

    select
        order_id,
        component,
        min(position) as least,
        max(position) as greatest,
        coalesce(bool_or(renews and position is not null), false) as named_renews
    from named
    where order_id in (select order_id from named where position is null)
    group by order_id, component

),

-- a line of labour beside the line that names the position is about the same unit, unless both renew one
told as (

    select
        n.*,
        s.least,
        n.position is null and s.least = s.greatest and not (n.renews and s.named_renews) as by_order
    from named as n
    left join sisters as s on n.order_id = s.order_id and n.component = s.component and n.position is null

)

select
    line_id,
    order_id,
    vehicle_id,
    component,
    positions,
    case when by_order then least else position end as position,
    case when by_order then 'order' end as filled,
    renews,
    concerns
from told
