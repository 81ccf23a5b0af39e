-- One row per : order, component and position named or blank, with the number of units it renews, of components of
--             : cars on which some unit may have to be filled in (rules 13, 16, 17)
-- Reads       : line, line_place, unit_window, component_fact, parts
-- Parameters  : none
-- Returns     : order_no INTEGER
--             : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR, null where it must be filled in
--             : fault_on DATE
--             : closed_on DATE
--             : renews BOOLEAN
--             : units BIGINT, at least 1
--             : part_no VARCHAR, the part that renews most units
--             : line_key INTEGER, the line of that part
-- Order       : none

with part_fact as (

    -- litres and metres are no units, and a gasket of another component renews nothing here
    select
        part_no,
        list(distinct component) as components,
        max(coalesce(covers_positions, 1)) as covers_positions,
        bool_or(unit in ('metre', 'litre')) as by_measure
    from parts
    group by part_no

),

lines as (

    select
        p.line_key,
        p.order_no,
        p.vehicle_id,
        p.component,
        p.position,
        l.fault_on,
        l.closed_on,
        l.renews,
        l.part_no,
        case
            when not coalesce(list_contains(f.components, l.component), true) then 0
            when not (l.renews and l.part_used) and l.quantity >= 0 then 0
            when f.by_measure then f.covers_positions
            else floor(least(greatest(l.quantity, -1000), 1000))::bigint * coalesce(f.covers_positions, 1)
        end as units
    from line_place as p
    semi join unit_window using (window_no)
    inner join line as l using (line_key)
    inner join component_fact as c
        on p.component = c.component and not c.whole_car
    left join part_fact as f
        on l.part_no = f.part_no
    where p.positions > 1

),

-- two kinds of part on one order renew the same units: the larger count, not the sum
by_part as (

    select
        order_no,
        vehicle_id,
        component,
        position,
        part_no,
        min(fault_on) as fault_on,
        max(closed_on) as closed_on,
        bool_or(renews) as renews,
        sum(units) as units,
        first(line_key order by renews desc, line_key) as line_key
    from lines
    group by order_no, vehicle_id, component, position, part_no

)

select
    order_no,
    vehicle_id,
    component,
    position,
    min(fault_on) as fault_on,
    max(closed_on) as closed_on,
    bool_or(renews) as renews,
    greatest(max(units), 1)::bigint as units,
    first(part_no order by renews desc, units desc, part_no) as part_no,
    first(line_key order by renews desc, units desc, part_no) as line_key
from by_part
group by order_no, vehicle_id, component, position
