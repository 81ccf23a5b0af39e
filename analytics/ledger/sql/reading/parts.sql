-- One row per : row of parts, with the names it is read by
-- Reads       : parts of the ledger, name_read, field_read
-- Why         : hides the ledger's own view for this connection only, so that every reader sees one name

create or replace temp view parts as

select r.* replace (
    coalesce(n.shown, r.part_no) as part_no,
    coalesce(c.shown, r.component) as component,
    coalesce(p.shown, r.position) as position,
    coalesce(s.shown, r.superseded_by) as superseded_by,
    coalesce(a.shown, r.looks_like) as looks_like
)
from ${ledger}.main.parts as r
left join name_read as n
    on n.kind = 'part' and n.written = r.part_no
left join name_read as c
    on c.kind = 'component' and c.written = r.component
left join name_read as p
    on p.kind = 'position' and p.written = r.position and p.within = coalesce(r.component, '')
left join name_read as s
    on s.kind = 'part' and s.written = r.superseded_by
left join field_read as a
    on a.kind = 'part' and a.written = r.looks_like
-- a number has one row for each place it fits: the one under its own name, else the first
qualify
    row_number() over (
        partition by
            coalesce(n.shown, r.part_no),
            coalesce(c.shown, r.component),
            coalesce(p.shown, r.position),
            r.series,
            r.serial_from
        order by n.shown is not null, c.shown is not null, p.shown is not null, r.part_no, r.component, r.position
    ) = 1
