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
-- Order       : line_id

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

orders as (

    select
        *,
        min(position) over order_and_component as least,
        max(position) over order_and_component as greatest,
        coalesce(bool_or(renews and position is not null) over order_and_component, false) as named_renews
    from named
    window order_and_component as (partition by order_id, component)

),

-- a line of labour beside the line that names the position is about the same unit, unless both renew one
told as (

    select
        *,
        position is null and least = greatest and not (renews and named_renews) as by_order
    from orders

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
order by line_id
