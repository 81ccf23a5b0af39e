-- One row per : field of several names with ; between them, one of which is read otherwise than it is written
-- Reads       : components and parts of the ledger, name_read
-- Returns     : kind VARCHAR, of the names
--             : written VARCHAR, the whole field
--             : shown VARCHAR, each name once, as it is read

create or replace temp view field_read as

with listed as (

    select
        'component' as kind,
        may_harm as written
    from ${ledger}.main.components
    union
    select
        'part' as kind,
        looks_like as written
    from ${ledger}.main.parts

),

single as (

    select
        kind,
        written,
        trim(unnest(string_split(written, ';'))) as one
    from listed
    where written is not null

)

select
    t.kind,
    t.written,
    string_agg(distinct coalesce(n.shown, t.one), '; ' order by coalesce(n.shown, t.one)) as shown
from single as t
left join name_read as n
    on t.kind = n.kind and t.one = n.written
group by t.kind, t.written
having bool_or(n.shown is not null)
