-- One row per : stretch of a unit's life with why it gives no spell, also where long stays left nothing of it
-- Reads       : age_spell, stretch_fate
-- Parameters  : none
-- Returns     : stretch_id BIGINT
--             : last_on DATE
--             : ended BOOLEAN, the record that ended it lies within the window
--             : event INTEGER
--             : cause VARCHAR
--             : lower_on DATE
--             : start_line VARCHAR
--             : why_none VARCHAR, null where there is a spell
-- Order       : none

select
    f.* exclude (zero_on, built_on, start_on, why_none),
    case
        when f.why_none is null and f.stretch_id not in (select stretch_id from age_spell) then 'no time watched'
        else f.why_none
    end as why_none
from stretch_fate as f
