-- One row per : row of components, with the names it is read by
-- Reads       : components of the ledger, name_read, field_read
-- Why         : hides the ledger's own view for this connection only, so that every reader sees one name

create or replace temp view components as

select r.* replace (
    coalesce(c.shown, r.component) as component,
    coalesce(p.shown, r.position) as position,
    coalesce(l.shown, r.location) as location,
    coalesce(h.shown, r.may_harm) as may_harm
)
from ${ledger}.main.components as r
left join name_read as c
    on c.kind = 'component' and c.written = r.component
left join name_read as p
    on p.kind = 'position' and p.written = r.position and p.within = coalesce(r.component, '')
left join name_read as l
    on l.kind = 'location' and l.written = r.location
left join field_read as h
    on h.kind = 'component' and h.written = r.may_harm
