-- One row per : row of readings, with the names it is read by
-- Reads       : readings of the ledger, name_read
-- Why         : hides the ledger's own view for this connection only, so that every reader sees one name

create or replace temp view readings as

select r.* replace (
    coalesce(v.shown, r.vehicle_id) as vehicle_id
)
from ${ledger}.main.readings as r
left join name_read as v
    on v.kind = 'vehicle' and v.written = r.vehicle_id
