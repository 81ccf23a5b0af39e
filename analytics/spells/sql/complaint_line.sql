-- One row per : line with a complaint, in the spelling of it that is written most often
-- Reads       : line
-- Parameters  : none
-- Returns     : line_id VARCHAR
--             : order_id VARCHAR
--             : visit_id VARCHAR
--             : vehicle_id VARCHAR
--             : series VARCHAR
--             : visit_day DATE
--             : order_to DATE
--             : component VARCHAR
--             : location VARCHAR
--             : reads_as VARCHAR
--             : complaint VARCHAR, one spelling for all that differ in capitals and blanks
-- Order       : none

with spoken as (

    select
        *,
        regexp_replace(trim(symptom), '\s+', ' ', 'g') as written
    from line
    where trim(symptom) <> ''

),

spelt as (

    select
        lower(written) as complaint_key,
        written as complaint
    from spoken
    group by written
    qualify row_number() over (partition by lower(written) order by count(*) desc, written) = 1

)

select
    l.line_id,
    l.order_id,
    l.visit_id,
    l.vehicle_id,
    l.series,
    l.visit_day,
    l.order_to,
    l.component,
    l.location,
    l.reads_as,
    s.complaint
from spoken as l
inner join spelt as s on lower(l.written) = s.complaint_key
