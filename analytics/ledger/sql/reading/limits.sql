-- One row per : row of limits, with the names it is read by
-- Reads       : limits of the ledger, name_read
-- Why         : hides the ledger's own view for this connection only, so that every reader sees one name

create or replace temp view limits as

select r.* replace (
    coalesce(c.shown, r.component) as component
)
from ${ledger}.main.limits as r
left join name_read as c
    on c.kind = 'component' and c.written = r.component
