-- One row per : visit of a car: presences that share a day, chained (rule 2)
-- Reads       : presence
-- Parameters  : none
-- Returns     : visit_id VARCHAR, car and first day
--             : vehicle_id VARCHAR
--             : day DATE, first opened_on
--             : closed_on DATE, last closed_on
--             : has_planned BOOLEAN
--             : from_order BOOLEAN
--             : from_reading BOOLEAN
--             : from_quarantine BOOLEAN
--             : lines BIGINT, repair lines in the ledger
-- Order       : visit_id

with reached as (

    select
        *,
        max(to_on) over (
            partition by vehicle_id
            order by from_on, to_on, kind
            rows between unbounded preceding and 1 preceding
        ) as reached_on
    from presence

),

islands as (

    select
        *,
        count(*) filter (where reached_on is null or from_on > reached_on) over (
            partition by vehicle_id
            order by from_on, to_on, kind
            rows between unbounded preceding and current row
        ) as visit_no
    from reached

)

select
    vehicle_id || ' ' || min(from_on) as visit_id,
    vehicle_id,
    min(from_on) as day,
    max(to_on) as closed_on,
    bool_or(planned) as has_planned,
    bool_or(kind = 'order') as from_order,
    bool_or(kind = 'reading') as from_reading,
    bool_or(kind = 'quarantined') as from_quarantine,
    sum(lines)::bigint as lines
from islands
group by vehicle_id, visit_no
order by visit_id
