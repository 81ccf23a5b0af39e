-- One row per : row of fitted, with the names it is read by
-- Reads       : fitted of the ledger, name_read
-- Why         : hides the ledger's own view for this connection only, so that every reader sees one name

create or replace temp view fitted as

select r.* replace (
    coalesce(v.shown, r.vehicle_id) as vehicle_id,
    coalesce(c.shown, r.component) as component,
    coalesce(p.shown, r.position) as position,
    coalesce(n.shown, r.part_no) as part_no
)
from ${ledger}.main.fitted as r
left join name_read as v
    on v.kind = 'vehicle' and v.written = r.vehicle_id
left join name_read as c
    on c.kind = 'component' and c.written = r.component
left join name_read as p
    on p.kind = 'position' and p.written = r.position and p.within = coalesce(r.component, '')
left join name_read as n
    on n.kind = 'part' and n.written = r.part_no
-- the same fitting told of two spellings is one
qualify
    row_number() over (
        partition by
            coalesce(v.shown, r.vehicle_id),
            coalesce(c.shown, r.component),
            coalesce(p.shown, r.position),
            r.fitted_from
        order by v.shown is not null, c.shown is not null, p.shown is not null, r.vehicle_id, r.component, r.position
    ) = 1
