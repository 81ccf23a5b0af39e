-- One row per : long stay in the workshop, overlapping ones joined (rule 25)
-- Reads       : order_line
-- Parameters  : lay_up_days INTEGER, longer stays are nobody's exposure
-- Returns     : vehicle_id VARCHAR
--             : from_on DATE
--             : to_on DATE
--             : order_id VARCHAR, first order of the stay
-- Order       : vehicle_id, from_on

with orders as (

    select distinct
        vehicle_id,
        order_id,
        order_from,
        order_to
    from order_line
    where order_to - order_from > $lay_up_days

),

reached as (

    select
        *,
        max(order_to) over (
            partition by vehicle_id
            order by order_from, order_to, order_id
            rows between unbounded preceding and 1 preceding
        ) as reached_on
    from orders

),

islands as (

    select
        *,
        count(*) filter (where reached_on is null or order_from > reached_on) over (
            partition by vehicle_id
            order by order_from, order_to, order_id
            rows between unbounded preceding and current row
        ) as stay_no
    from reached

)

select
    vehicle_id,
    min(order_from) as from_on,
    max(order_to) as to_on,
    first(order_id order by order_from, order_to, order_id) as order_id
from islands
group by vehicle_id, stay_no
order by vehicle_id, from_on
