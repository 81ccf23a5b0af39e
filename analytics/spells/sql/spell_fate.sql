-- One row per : stretch of a unit's life with why it gives no spell, also where long stays left nothing of it
-- Reads       : age_spell, stretch_fate
-- Parameters  : none
-- Returns     : stretch_id INTEGER
--             : last_on DATE
--             : ended BOOLEAN, the record that ended it lies within the window
--             : event INTEGER
--             : lower_on DATE
--             : why_none VARCHAR, null where there is a spell
-- Order       : none

with found as (

    select distinct stretch_id
    from age_spell
    where ending = 0

)

select
    f.* exclude (ending, zero_on, built_on, start_on, why_none),
    case when f.why_none is null and s.stretch_id is null then 'no time watched' else f.why_none end as why_none
from stretch_fate as f
left join found as s using (stretch_id)
where f.ending = 0
