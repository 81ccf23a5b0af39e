-- One row per : row of repairs, with the names it is read by
-- Reads       : repairs of the ledger, name_read
-- Why         : hides the ledger's own view for this connection only, so that every reader sees one name

create or replace temp view repairs as

select r.* replace (
    coalesce(v.shown, r.vehicle_id) as vehicle_id,
    coalesce(c.shown, r.component) as component,
    coalesce(p.shown, r.position) as position,
    coalesce(l.shown, r.location) as location,
    coalesce(n.shown, r.part_no) as part_no,
    coalesce(o.shown, r.removed_part_no) as removed_part_no,
    coalesce(i.shown, r.fitted_instead_of) as fitted_instead_of
)
from ${ledger}.main.repairs as r
left join name_read as v
    on v.kind = 'vehicle' and v.written = r.vehicle_id
left join name_read as c
    on c.kind = 'component' and c.written = r.component
left join name_read as p
    on p.kind = 'position' and p.written = r.position and p.within = coalesce(r.component, '')
left join name_read as l
    on l.kind = 'location' and l.written = r.location
left join name_read as n
    on n.kind = 'part' and n.written = r.part_no
left join name_read as o
    on o.kind = 'part' and o.written = r.removed_part_no
left join name_read as i
    on i.kind = 'part' and i.written = r.fitted_instead_of
