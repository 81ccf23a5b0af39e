-- One row per : component, or one position of it, seen to be good on a day (rule 11)
-- Reads       : line, clean_line, line_place, repair, slot, component_fact
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR, null: all positions of the car
--             : checked_on DATE, the day the car came in
--             : line_id VARCHAR
-- Order       : vehicle_id, component, checked_on, position

with services as (

    select
        vehicle_id,
        visit_id,
        order_from as checked_on,
        min(line_id) as line_id
    from line
    where reason = 'planned'
    group by vehicle_id, visit_id, order_from

),

checks as (

    select
        l.vehicle_id,
        l.visit_id,
        l.component,
        case when p.positions > 1 then l.position end as position,
        l.fault_on as checked_on,
        l.line_id
    from line as l
    inner join clean_line using (line_key)
    inner join line_place as p using (line_key)
    inner join component_fact as f
        on l.component = f.component
    -- a look at one position is none at a component that is shown for the whole car
    where
        (l.position is null or p.positions = 1 or not f.whole_car)
        and l.reason = 'planned'
    union all
    select
        s.vehicle_id,
        s.visit_id,
        f.component,
        null as position,
        s.checked_on,
        s.line_id
    from services as s
    cross join component_fact as f
    where f.seen_at_service

),

faults as (

    select distinct
        visit_id,
        component,
        position
    from repair
    where reads_as in ('failure', 'found at inspection', 'consequence')

),

-- beside a fault the other positions were still seen to be good
by_position as (

    select
        c.vehicle_id,
        c.component,
        c.checked_on,
        c.line_id,
        case when exists (select 1 from faults as f where f.visit_id = c.visit_id and f.component = c.component)
            or c.position is not null then s.position end as position
    from checks as c
    inner join slot as s
        on c.vehicle_id = s.vehicle_id and c.component = s.component and coalesce(c.position, s.position) = s.position
    where not exists (
        select 1 from faults as f
        where f.visit_id = c.visit_id and f.component = c.component and f.position = s.position
    )

)

select
    vehicle_id,
    component,
    position,
    checked_on,
    min(line_id) as line_id
from by_position
group by vehicle_id, component, position, checked_on
order by vehicle_id, component, checked_on, position
