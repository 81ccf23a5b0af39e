-- One row per : component and action that components.renewed_by adds to the renewing ones (rule 9)
-- Reads       : components
-- Parameters  : none
-- Returns     : component VARCHAR
--             : action VARCHAR
-- Order       : component, action

select distinct
    component,
    lower(trim(unnest(string_split(renewed_by, ';')))) as action
from components
where renewed_by is not null
order by component, action
