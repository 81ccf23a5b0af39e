-- One row per : row x column that goes to quarantine, judged on its own or beside the ledger
-- Reads       : refused_in, clash
-- Returns     : n BIGINT
--             : contested BOOLEAN
--             : column_name VARCHAR
--             : value VARCHAR
--             : says VARCHAR
--             : vehicle_id VARCHAR
--             : day DATE
--             : planned BOOLEAN
-- Order       : n, column_name

select
    n,
    contested,
    column_name,
    value,
    says,
    vehicle_id,
    day,
    planned
from refused_in
union all
select
    n,
    contested,
    column_name,
    value,
    says,
    vehicle_id,
    day,
    planned
from clash
order by n, column_name
