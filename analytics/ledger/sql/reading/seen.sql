-- One row per : row of seen, with the names it is read by
-- Reads       : seen of the ledger, name_read
-- Why         : hides the ledger's own view for this connection only, so that every reader sees one name

create or replace temp view seen as

select r.* replace (
    coalesce(v.shown, r.vehicle_id) as vehicle_id
)
from ${ledger}.main.seen as r
left join name_read as v
    on v.kind = 'vehicle' and v.written = r.vehicle_id
