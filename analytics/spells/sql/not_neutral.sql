-- One row per : visit and component for which it is not neutral, by reason (rules 3, 22)
-- Reads       : visit, line, repair
-- Parameters  : follow_up_days INTEGER, a visit opened within this of the hand-over of a repair is not neutral
-- Returns     : visit_id VARCHAR
--             : vehicle_id VARCHAR
--             : component VARCHAR, null: for every component
--             : why VARCHAR, own failure, follow-up or cause not known
-- Order       : none

-- where some line says that the car came for it, a failure not so marked was met on the way
with failing as (

    select distinct
        visit_id,
        component
    from repair
    where
        reads_as = 'failure'
        and (came_for or (came_for is null and visit_id not in (select visit_id from repair where came_for)))

),

alone as (

    select
        visit_id,
        min(component) as component
    from failing
    group by visit_id
    having count(*) = 1

),

followed as (

    select
        o.order_no,
        v.visit_id,
        v.vehicle_id
    from (select distinct order_no, vehicle_id, order_to from repair where action not in ('inspected', 'none')) as o
    inner join visit as v
        on
            o.vehicle_id = v.vehicle_id
            and v.day > o.order_to
            and v.day <= o.order_to + $follow_up_days::integer
    where not v.has_planned

),

-- what a line without component or a quarantined one was about is not known; it may be any component
unknown as (

    select visit_id
    from visit
    where from_quarantine
    union
    select visit_id
    from line
    where component is null

)

select
    a.visit_id,
    v.vehicle_id,
    a.component,
    'own failure' as why
from alone as a
inner join visit as v using (visit_id)
where not v.has_planned
union all
select distinct
    f.visit_id,
    f.vehicle_id,
    r.component,
    'follow-up' as why
from followed as f
inner join repair as r using (order_no)
where r.action not in ('inspected', 'none')
union all
select
    u.visit_id,
    v.vehicle_id,
    null as component,
    'cause not known' as why
from unknown as u
inner join visit as v using (visit_id)
anti join (
    select visit_id from line
    where component is not null and reads_as in ('failure', 'found at inspection', 'accident')
) as explained using (visit_id)
where not v.has_planned
