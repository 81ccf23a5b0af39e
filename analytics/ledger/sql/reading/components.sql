-- One row per : row of components, with the names it is read by
-- Reads       : components of the ledger, name_read
-- Why         : hides the ledger's own view for this connection only, so that every reader sees one name

create or replace temp view components as

with harmed as (

    -- several components stand in one field
    select
        may_harm,
        string_agg(distinct coalesce(n.shown, trim(t.one)), '; ' order by coalesce(n.shown, trim(t.one))) as shown
    from (
        select
            may_harm,
            unnest(string_split(may_harm, ';')) as one
        from (select distinct may_harm from ${ledger}.main.components where may_harm is not null)
    ) as t
    left join name_read as n
        on n.kind = 'component' and n.written = trim(t.one)
    group by may_harm
    having bool_or(n.shown is not null)

)

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
left join harmed as h
    on r.may_harm = h.may_harm
