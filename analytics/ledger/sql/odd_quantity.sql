-- One row per : quantity a load brought that is far above the other quantities of its part
-- Reads       : repairs_revision, sales_revision, undone_load
-- Parameters  : load_id BIGINT
--             : times DOUBLE, so many times the usual quantity are far above it
--             : least DOUBLE, smaller quantities are never told
--             : others BIGINT, a part with fewer other quantities is compared with all parts
-- Returns     : table_name VARCHAR
--             : file VARCHAR
--             : row_no BIGINT
--             : part VARCHAR, part number else component
--             : quantity DOUBLE
--             : usual DOUBLE, median
--             : of_part BOOLEAN, whether of this part, else of all
-- Order       : quantity desc, table_name, file, row_no

with line as (

    select
        'repairs' as table_name,
        file,
        row_no,
        load_id,
        coalesce(part_no, component) as part,
        quantity
    from repairs_revision
    where quantity > 0
    union all
    select
        'sales' as table_name,
        file,
        row_no,
        load_id,
        part_no as part,
        quantity
    from sales_revision
    where quantity > 0

),

large as (

    from line
    where load_id = $load_id and quantity >= $least

),

usual as (

    select
        part,
        median(quantity) as usual,
        count(*) - 1 as others
    from line
    where part in (select part from large) and load_id not in (select load_id from undone_load)
    group by part

),

beside as (

    select
        l.*,
        coalesce(u.others >= $others, false) as of_part,
        case when of_part then u.usual else (select median(quantity) from line) end as usual
    from large as l
    left join usual as u using (part)

)

select
    table_name,
    file,
    row_no,
    coalesce(part, 'a part not named') as part,
    quantity,
    usual,
    of_part
from beside
where quantity > $times * usual
order by quantity desc, table_name, file, row_no
