-- One row per : repair line with what it did in the life tables, in words
-- Reads       : unit_line, repair, repair_role, line
-- Parameters  : none
-- Returns     : line_id VARCHAR
--             : spell_note VARCHAR
-- Order       : none

with repairs_of_line as (

    select distinct
        u.line_id,
        r.repair_no,
        r.position,
        o.ends_unit,
        o.cause,
        o.starts_unit,
        o.fits_unit,
        o.why_none
    from unit_line as u
    inner join repair as r using (order_id, component, position)
    inner join repair_role as o using (repair_no)

),

notes as (

    select
        line_id,
        position,
        concat_ws(
            '; ',
            'ended unit ' || ends_unit || ' (' || cause || ')',
            'fitted unit ' || fits_unit,
            case when starts_unit is not null and fits_unit is null then 'began a new stretch of unit ' || starts_unit end,
            case when why_none is not null then 'no spell: ' || why_none end
        ) as note
    from repairs_of_line

),

joined as (

    select
        line_id,
        case
            when count(*) = 1 then min(note)
            else string_agg(position || ': ' || note, '; ' order by position)
        end as note
    from notes
    group by line_id

)

select
    l.line_id,
    coalesce(j.note, 'no component: a visit only') as spell_note
from line as l
left join joined as j using (line_id)
