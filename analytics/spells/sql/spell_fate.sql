-- One row per : stretch of a unit's life with why it gives no spell, also where long stays left nothing of it
-- Reads       : age_spell, stretch_fate
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR
--             : unit_no BIGINT
--             : stretch_no BIGINT
--             : last_on DATE
--             : ended BOOLEAN, the record that ended it lies within the window
--             : event INTEGER
--             : cause VARCHAR
--             : lower_on DATE
--             : why_none VARCHAR, null where there is a spell
-- Order       : vehicle_id, component, position, unit_no, stretch_no

with given as (

    select distinct
        vehicle_id,
        component,
        position,
        unit_no,
        stretch_no
    from age_spell

)

select
    f.* exclude (why_none),
    case when f.why_none is null and g.vehicle_id is null then 'no time watched' else f.why_none end as why_none
from stretch_fate as f
left join given as g using (vehicle_id, component, position, unit_no, stretch_no)
order by f.vehicle_id, f.component, f.position, f.unit_no, f.stretch_no
