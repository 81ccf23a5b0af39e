-- One row per : visit, complaint and component found to cause it; one row where no cause was found (rules 2, 8, 24)
-- Reads       : complaint_line, line
-- Parameters  : none
-- Returns     : record VARCHAR, the line that tells the cause, else the first with the complaint
--             : vehicle_id VARCHAR
--             : series VARCHAR
--             : came_on DATE, first day of the visit
--             : closed_on DATE, hand-over of its last order with the complaint
--             : complaint VARCHAR
--             : component VARCHAR, without a cause the one looked at, if any is named
--             : location VARCHAR
--             : outcome VARCHAR, found, no fault found or no cause named
--             : weight BIGINT, 2520 shared evenly by the causes of the visit; 0 without a cause
-- Order       : none

-- what an accident did or was planned answers no complaint
with jobs as (

    select
        visit_id,
        complaint,
        min(vehicle_id) as vehicle_id,
        min(series) as series,
        min(visit_day) as came_on,
        max(order_to) as closed_on,
        min(line_id) as first_line,
        min(component) filter (where reads_as = 'no fault found') as looked_at,
        bool_or(reads_as = 'no fault found') as none_found
    from complaint_line
    group by visit_id, complaint
    having not bool_and(reads_as in ('accident', 'planned', 'changed in passing'))

),

-- a line answers its own complaint; one without words answers that of its order, where no line does better
told as (

    select
        visit_id,
        complaint,
        line_id,
        component,
        location,
        true as said_here
    from complaint_line
    where component is not null and reads_as in ('failure', 'found at inspection', 'consequence')
    union all
    select distinct
        c.visit_id,
        c.complaint,
        l.line_id,
        l.component,
        l.location,
        false as said_here
    from complaint_line as c
    inner join line as l using (order_id)
    where
        l.symptom is null
        and l.component is not null
        -- what was found by looking is not what the car came for, unless it says so itself
        and l.reads_as in ('failure', 'consequence')
        and coalesce(l.came_for, true)

),

causes as (

    select
        t.visit_id,
        t.complaint,
        t.component,
        min(t.line_id) as line_id,
        arg_min(t.location, t.line_id) as location,
        2520 // count(*) over (partition by t.visit_id, t.complaint) as weight
    from (select *, bool_or(said_here) over (partition by visit_id, complaint) as said_somewhere from told) as t
    where t.said_here = t.said_somewhere
    group by t.visit_id, t.complaint, t.component

)

select
    coalesce(c.line_id, j.first_line) as record,
    j.vehicle_id,
    j.series,
    j.came_on,
    j.closed_on,
    j.complaint,
    coalesce(c.component, j.looked_at) as component,
    c.location,
    case when c.component is not null then 'found' when j.none_found then 'no fault found' else 'no cause named' end
        as outcome,
    coalesce(c.weight, 0)::bigint as weight
from jobs as j
left join causes as c using (visit_id, complaint)
