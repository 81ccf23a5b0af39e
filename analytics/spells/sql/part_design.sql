-- One row per : part number of a component
-- Reads       : parts
-- Parameters  : none
-- Returns     : part_no VARCHAR
--             : component VARCHAR
--             : variant VARCHAR, its design
-- Order       : none

select
    part_no,
    component,
    min(coalesce(variant, part_no)) as variant
from parts
group by part_no, component
