-- One row per : repair line with a component, and the position it names among those of the car (rules 12, 15)
-- Reads       : line, car_component, layout
-- Parameters  : none
-- Returns     : line_key INTEGER
--             : order_no INTEGER
--             : vehicle_id VARCHAR
--             : component VARCHAR
--             : window_no INTEGER, null where the component is not on the car
--             : positions BIGINT, how many the car has; null where the component is not on the car
--             : position VARCHAR, null where it must be filled in
--             : place_no INTEGER, its number among the car's; null where the car does not have it
--             : filled VARCHAR, null, order where a sister line told it
--             : renews BOOLEAN
--             : concerns BOOLEAN, the line concerns a unit and not only a look at all of them
-- Order       : none

with named as (

    select
        l.line_key,
        l.order_no,
        l.vehicle_id,
        l.component,
        c.window_no,
        c.positions,
        case
            when c.positions is null then coalesce(l.position, 'only')
            when c.positions = 1 then c.only_position
            else y.position
        end as position,
        case when c.positions = 1 then 1 else y.place_no end as place_no,
        l.renews,
        l.renews or l.modified or l.reads_as in ('failure', 'found at inspection', 'consequence') as concerns
    from line as l
    left join car_component as c using (vehicle_id, component)
    left join layout as y on c.layout_no = y.layout_no and l.position = y.position
    where l.component is not null

),

-- of most orders every line names its position
sisters as (

    select
        order_no,
        component,
        min(position) as least,
        max(position) as greatest,
        min(place_no) as place_no,
        coalesce(bool_or(renews and position is not null), false) as named_renews
    from named
    where order_no in (select order_no from named where position is null)
    group by order_no, component

),

-- a line of labour beside the line that names the position is about the same unit, unless both renew one
told as (

    select
        n.*,
        s.least,
        s.place_no as least_place_no,
        n.position is null and s.least = s.greatest and not (n.renews and s.named_renews) as by_order
    from named as n
    left join sisters as s on n.order_no = s.order_no and n.component = s.component and n.position is null

)

select
    line_key,
    order_no,
    vehicle_id,
    component,
    window_no,
    positions,
    case when by_order then least else position end as position,
    case when by_order then least_place_no else place_no end as place_no,
    case when by_order then 'order' end as filled,
    renews,
    concerns
from told
