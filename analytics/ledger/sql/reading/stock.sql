-- One row per : row of stock, with the names it is read by
-- Reads       : stock of the ledger, name_read
-- Why         : hides the ledger's own view for this connection only, so that every reader sees one name

create or replace temp view stock as

select r.* replace (
    coalesce(n.shown, r.part_no) as part_no
)
from ${ledger}.main.stock as r
left join name_read as n
    on n.kind = 'part' and n.written = r.part_no
