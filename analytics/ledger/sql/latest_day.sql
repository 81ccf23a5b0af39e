-- One row per : ledger
-- Reads       : repairs, readings, stock, sales
-- Returns     : day DATE, latest day a job was closed, an odometer read, stock counted or a part sold
-- Order       : day
-- Why         : rule 6; none is after the day it was loaded, such rows wait in quarantine

with dated as (

    select closed_on as day from repairs
    union all
    select read_on as day from readings
    union all
    select counted_on as day from stock
    union all
    select sold_on as day from sales

)

select max(day) as day
from dated
order by day
