-- One row per : ledger
-- Reads       : repairs, readings, stock
-- Returns     : day DATE, latest day a job was closed, an odometer read or stock counted
-- Order       : day
-- Why         : rule 6; none is after the day it was loaded, such rows wait in quarantine

with dated as (

    select closed_on as day from repairs
    union all
    select read_on as day from readings
    union all
    select counted_on as day from stock

)

select max(day) as day
from dated
order by day
