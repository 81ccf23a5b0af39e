-- One row per : row of locations, with the names it is read by
-- Reads       : locations of the ledger, name_read
-- Why         : hides the ledger's own view for this connection only, so that every reader sees one name

create or replace temp view locations as

select r.* replace (
    coalesce(l.shown, r.location) as location,
    coalesce(p.shown, r.parent) as parent
)
from ${ledger}.main.locations as r
left join name_read as l
    on l.kind = 'location' and l.written = r.location
left join name_read as p
    on p.kind = 'location' and p.written = r.parent
-- a place has one row: the one under its own spelling, else the first
qualify row_number() over (partition by coalesce(l.shown, r.location) order by l.shown is not null, r.location) = 1
