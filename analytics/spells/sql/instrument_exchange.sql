-- One row per : day on which a car's odometer or the instrument that holds it was renewed
-- Reads       : line
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : day DATE
-- Order       : vehicle_id, day

select distinct
    vehicle_id,
    fault_on as day
from line
where
    (renews or action in ('replaced', 'exchanged'))
    and regexp_matches(lower(component), 'odometer|speedometer|instrument|cluster|tacho')
    -- a cable or lamp of the instrument leaves its figure alone
    and not regexp_matches(lower(component), 'cable|lamp|bulb|light|sensor|shaft')
order by vehicle_id, day
