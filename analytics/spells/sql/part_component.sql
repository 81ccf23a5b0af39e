-- One row per : line without component whose part number belongs to exactly one component of its series (rule 8)
-- Reads       : repair_line, order_line, parts
-- Parameters  : none
-- Returns     : line_id VARCHAR
--             : component VARCHAR
-- Order       : line_id

select
    r.line_id,
    min(p.component) as component
from repair_line as r
inner join order_line as o using (line_id)
inner join parts as p
    on
        r.part_no = p.part_no
        and coalesce(p.series, o.series) = o.series
where r.component is null
group by r.line_id
having count(distinct p.component) = 1
order by r.line_id
