-- One row per : position of a list of positions that components share (rule 15)
-- Reads       : component_layout
-- Parameters  : none
-- Returns     : layout_no INTEGER
--             : place_no INTEGER, 1, 2, 3 by name
--             : position VARCHAR
-- Order       : none

select distinct
    layout_no,
    generate_subscripts(positions, 1)::integer as place_no,
    unnest(positions) as position
from component_layout
