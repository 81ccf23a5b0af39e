-- One row per : word that is a part number
-- Reads       : parts, repairs, stock, sales, fitted
-- Returns     : part_no VARCHAR
-- Order       : part_no

with word as (

    select unnest([part_no, superseded_by, looks_like]) as part_no
    from parts
    union all
    select unnest([part_no, removed_part_no]) as part_no
    from repairs
    union all
    select part_no
    from stock
    union all
    select part_no
    from sales
    union all
    select part_no
    from fitted

),

single as (

    -- several look-alikes are separated by semicolons
    select trim(unnest(string_split(part_no, ';'))) as part_no
    from word

)

select distinct part_no
from single
where part_no <> ''
order by part_no
