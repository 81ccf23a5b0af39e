-- One row per : visit and component for which it is not neutral, by reason (rules 3, 22)
-- Reads       : visit, line, repair
-- Parameters  : follow_up_days INTEGER, a visit opened within this of the hand-over of a repair is not neutral
-- Returns     : visit_id VARCHAR
--             : vehicle_id VARCHAR
--             : component VARCHAR, null: for every component
--             : why VARCHAR, own failure, follow-up or cause not known
-- Order       : none

with marked as (

    select distinct visit_id
    from repair
    where came_for

),

-- where some line says that the car came for it, a failure not so marked was met on the way
failing as (

    select distinct
        r.visit_id,
        r.component
    from repair as r
    left join marked as m using (visit_id)
    where r.reads_as = 'failure' and coalesce(r.came_for, m.visit_id is null)

),

alone as (

    select
        visit_id,
        min(component) as component
    from failing
    group by visit_id
    having count(*) = 1

),

worked_on as (

    select distinct
        vehicle_id,
        component,
        order_to
    from repair
    where action not in ('inspected', 'none')

),

-- what a line without component or a quarantined one was about is not known; it may be any component
unknown as (

    select
        v.visit_id,
        v.from_quarantine or count(*) filter (where l.line_id is not null and l.component is null) > 0 as some_unknown,
        count(*) filter (
            where l.component is not null and l.reads_as in ('failure', 'found at inspection', 'accident')
        ) > 0 as explained
    from visit as v
    left join line as l using (visit_id)
    group by v.visit_id, v.from_quarantine

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
    v.visit_id,
    v.vehicle_id,
    w.component,
    'follow-up' as why
from worked_on as w
inner join visit as v
    on
        w.vehicle_id = v.vehicle_id
        and v.day > w.order_to
        and v.day <= w.order_to + $follow_up_days::integer
where not v.has_planned
union all
select
    v.visit_id,
    v.vehicle_id,
    null as component,
    'cause not known' as why
from unknown as u
inner join visit as v using (visit_id)
where u.some_unknown and not u.explained and not v.has_planned
