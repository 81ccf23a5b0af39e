-- One row per : ledger
-- Reads       : repairs, readings, stock, load, undone_load
-- Returns     : day DATE, latest day a job was closed, an odometer read or stock counted; none after the last loading
-- Order       : day
-- Why         : rule 6; a reading dated years ahead by a slip must not move the day of the analysis

with dated as (

    select closed_on as day from repairs
    union all
    select read_on as day from readings
    union all
    select counted_on as day from stock

),

last_load as (

    select max(loaded_on) as loaded_on
    from load
    anti join undone_load using (load_id)

)

select max(dated.day) as day
from dated
cross join last_load
where dated.day <= last_load.loaded_on
order by day
