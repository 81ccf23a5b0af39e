-- One row per : repair line of the ledger; where it holds none yet, part sold for a car that is named (rule 8)
-- Reads       : repairs, sales
-- Parameters  : as_of DATE, last day that counts
-- Returns     : line_id VARCHAR
--             : source VARCHAR
--             : record_id VARCHAR, of a sale its day and car
--             : line_no BIGINT
--             : vehicle_id VARCHAR
--             : opened_on DATE
--             : closed_on DATE
--             : odometer DOUBLE
--             : odometer_unit VARCHAR
--             : symptom VARCHAR
--             : came_for BOOLEAN
--             : component VARCHAR
--             : position VARCHAR
--             : location VARCHAR
--             : finding VARCHAR
--             : cause VARCHAR
--             : action VARCHAR
--             : reason VARCHAR
--             : part_no VARCHAR
--             : removed_part_no VARCHAR
--             : part_origin VARCHAR
--             : fitted_instead_of VARCHAR
--             : quantity DOUBLE
--             : labour_minutes DOUBLE
--             : measured DOUBLE
--             : measured_unit VARCHAR
--             : inferred VARCHAR
--             : from_sale BOOLEAN
-- Order       : none, a sort of every line would cost more than all that reads them

-- an invoice that names its car tells of a job; beside job records it would tell the same job twice
with invoice as (

    select
        'sale ' || sold_on || ', ' || vehicle_id as record_id,
        row_number() over (partition by vehicle_id, sold_on order by part_no, quantity) as line_no,
        vehicle_id,
        sold_on,
        part_no,
        quantity
    from sales
    where
        vehicle_id is not null
        and not coalesce(lost, false)
        and coalesce((select min(closed_on) from repairs) > $as_of, true)

)

select
    line_id,
    source,
    record_id,
    line_no,
    vehicle_id,
    opened_on,
    closed_on,
    odometer,
    odometer_unit,
    symptom,
    came_for,
    component,
    position,
    location,
    finding,
    cause,
    action,
    reason,
    part_no,
    removed_part_no,
    part_origin,
    fitted_instead_of,
    quantity,
    labour_minutes,
    measured,
    measured_unit,
    inferred,
    false as from_sale
from repairs
union all by name
select
    record_id || '/' || line_no as line_id,
    '' as source,
    record_id,
    line_no,
    vehicle_id,
    sold_on as closed_on,
    part_no,
    quantity,
    true as from_sale
from invoice
