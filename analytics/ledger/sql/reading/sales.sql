-- One row per : row of sales, with the names it is read by
-- Reads       : sales of the ledger, name_read
-- Why         : hides the ledger's own view for this connection only, so that every reader sees one name

create or replace temp view sales as

select r.* replace (
    coalesce(v.shown, r.vehicle_id) as vehicle_id,
    coalesce(n.shown, r.part_no) as part_no
)
from ${ledger}.main.sales as r
left join name_read as v
    on v.kind = 'vehicle' and v.written = r.vehicle_id
left join name_read as n
    on n.kind = 'part' and n.written = r.part_no
