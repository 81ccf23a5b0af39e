-- One row per : repair line of a known car, closed by the as-of day, with what it leaves unsaid (rules 8, 13)
-- Reads       : repair_line, order_line, part_component, parts
-- Parameters  : none
-- Returns     : line_key INTEGER
--             : component VARCHAR, recorded or told by the part number
--             : action VARCHAR, recorded, else replaced with a part and none without
--             : reason VARCHAR, recorded, else not recorded
--             : quantity DOUBLE, recorded, else 1
--             : net_quantity DOUBLE, at most quantity, less credits of the same part on the order
--             : part_rank INTEGER, 1 = part of this component, 2 = not in parts, 3 = part of another
--             : inferred VARCHAR, columns filled in, with ;
-- Order       : none

with part_of as (

    select
        part_no,
        list(distinct component) as components
    from parts
    group by part_no

),

filled as (

    select
        o.line_key,
        o.order_no,
        r.part_no,
        r.inferred,
        coalesce(r.component, p.component) as component,
        -- a part that was credited was not fitted, so it tells of no replacement
        coalesce(
            r.action, case when r.part_no is not null and coalesce(r.quantity, 1) > 0 then 'replaced' else 'none' end
        ) as action,
        coalesce(r.reason, 'not recorded') as reason,
        coalesce(r.quantity, 1) as quantity,
        concat_ws(
            ';',
            case when r.action is null then 'action' end,
            case when r.component is null and p.component is not null then 'component' end,
            case when r.opened_on is null and o.opened_on is not null then 'opened_on' end,
            case when r.quantity is null then 'quantity' end,
            case when coalesce(r.reason, 'not recorded') = 'not recorded' then 'reason' end
        ) as marks
    from repair_line as r
    inner join order_line as o on r.rowid = o.row_no
    left join part_component as p on r.line_id = p.line_id

),

-- few parts were credited; of all others every line counts in full
net as (

    select
        order_no,
        component,
        part_no,
        fsum(quantity) as quantity
    from filled
    where order_no in (select order_no from filled where quantity < 0 and part_no is not null)
    group by order_no, component, part_no

)

select
    f.line_key,
    f.component,
    f.action,
    f.reason,
    f.quantity,
    case
        when n.part_no is null then f.quantity
        else least(f.quantity, n.quantity)
    end as net_quantity,
    -- a gasket or clip fitted along with the unit is not the unit
    case
        when list_contains(p.components, f.component) then 1
        when p.components is null then 2
        else 3
    end as part_rank,
    -- by name, as the marks are
    nullif(
        case
            when f.inferred is null then f.marks
            else array_to_string(
                list_sort(list_distinct(string_split(concat_ws(';', f.inferred, nullif(f.marks, '')), ';'))), ';'
            )
        end, ''
    ) as inferred
from filled as f
left join part_of as p using (part_no)
left join net as n
    on f.order_no = n.order_no and f.part_no = n.part_no and f.component is not distinct from n.component
