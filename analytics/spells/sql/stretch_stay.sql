-- One row per : spell, choice of the end of watching and long stay in the workshop that is taken out of it (rule 25)
-- Reads       : stretch_fate, slot, lay_up
-- Parameters  : none
-- Returns     : ending INTEGER, as in watch_end
--             : stretch_id INTEGER
--             : from_on DATE
--             : to_on DATE
--             : covers_end BOOLEAN, the spell ended during the stay: it is taken to end where the stay began
-- Order       : none

select
    f.ending,
    f.stretch_id,
    l.from_on,
    l.to_on,
    f.last_on < l.to_on or (f.last_on = l.to_on and f.event = 0) as covers_end
from stretch_fate as f
inner join slot as p using (slot_no)
inner join lay_up as l on p.vehicle_id = l.vehicle_id
where
    l.to_on > f.start_on
    and l.from_on < f.last_on
    -- nobody knows whether a silent fault was there already, so only stays before the last clean check are taken out
    and (f.lower_on is null or l.to_on <= f.lower_on)
