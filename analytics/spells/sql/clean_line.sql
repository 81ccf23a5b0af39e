-- One row per : line of an inspection that found the component good (rules 8, 11)
-- Reads       : line
-- Parameters  : none
-- Returns     : line_key INTEGER
-- Order       : none

select line_key
from line
where
    component is not null
    and action = 'inspected'
    -- a planned look that says nothing found nothing; any other must say that it found the component good
    and (
        reads_as = 'planned' and coalesce(trim(finding), '') = ''
        or reads_as in ('planned', 'no fault found') and lower(trim(finding)) = 'good'
    )
