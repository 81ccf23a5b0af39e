-- One row per : repair line with what it did in the life tables, in words
-- Reads       : unit_line, repair_role, line
-- Parameters  : none
-- Returns     : line_id VARCHAR
--             : spell_note VARCHAR
-- Order       : none

with notes as (

    select
        u.line_id,
        o.repair_no,
        o.position,
        concat_ws(
            '; ',
            'ended unit ' || o.ends_unit || ' (' || o.cause || ')',
            'fitted unit ' || o.fits_unit,
            case
                when o.starts_unit is not null and o.fits_unit is null
                    then 'began a new stretch of unit ' || o.starts_unit
            end,
            case when o.why_none is not null then 'no spell: ' || o.why_none end
        ) as note
    from unit_line as u
    inner join repair_role as o using (repair_no)

),

-- most lines belong to one repair
several as (

    select line_id
    from unit_line
    group by line_id
    having count(*) > 1

),

joined as (

    select
        line_id,
        note
    from notes
    anti join several using (line_id)
    union all
    select
        line_id,
        case when count(*) = 1 then min(note) else string_agg(position || ': ' || note, '; ' order by position) end as note
    from (select distinct * from notes semi join several using (line_id))
    group by line_id

)

select
    l.line_id,
    coalesce(j.note, 'no component: a visit only') as spell_note
from line as l
left join joined as j using (line_id)
