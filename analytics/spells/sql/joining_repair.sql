-- One row per : repair on the first visit of its car or on an order opened soon after (rule 21)
-- Reads       : repair_draft, car
-- Parameters  : joining_days INTEGER, what is found on orders opened within this of the first visit existed before
-- Returns     : repair_no INTEGER
--             : ours BOOLEAN, an earlier order of ours had renewed the unit it concerns
-- Order       : none

with joiner as (

    select d.*
    from repair_draft as d
    inner join car as c using (vehicle_id)
    where d.visit_id = c.first_visit_id or d.order_from - c.joined_on <= $joining_days

),

renewed_before as (

    select distinct j.repair_no
    from joiner as j
    inner join repair_draft as r
        on
            j.vehicle_id = r.vehicle_id
            and j.component = r.component
            and j.position = r.position
            and r.renews
            and r.closed_on <= j.fault_on
            and (r.fault_on, r.closed_on, r.order_no) < (j.fault_on, j.closed_on, j.order_no)

)

select
    j.repair_no,
    e.repair_no is not null as ours
from joiner as j
left join renewed_before as e using (repair_no)
