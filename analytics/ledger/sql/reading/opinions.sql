-- One row per : row of opinions, with the names it is read by
-- Reads       : opinions of the ledger, name_read
-- Why         : hides the ledger's own view for this connection only, so that every reader sees one name

create or replace temp view opinions as

select r.* replace (
    coalesce(c.shown, r.component) as component
)
from ${ledger}.main.opinions as r
left join name_read as c
    on c.kind = 'component' and c.written = r.component
