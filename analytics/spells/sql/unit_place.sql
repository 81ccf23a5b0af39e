-- One row per : position of a car's component on which some unit must be filled in (rules 16, 17)
-- Reads       : unit_count, slot
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR
--             : slot_no INTEGER
--             : position_no BIGINT, 0, 1, 2 in an order of the car's own
--             : positions BIGINT, how many the car has
--             : window_no INTEGER
-- Order       : none

-- groups in which nothing must be filled in are left alone
with asked as (

    select distinct
        vehicle_id,
        component
    from unit_count
    where position is null or (renews and units > 1)

)

select
    vehicle_id,
    component,
    s.position,
    s.slot_no,
    -- where nothing tells them apart, no side is always the first one (rule 7: by name and car, not by chance)
    row_number() over (
        partition by vehicle_id, component
        order by left(md5(concat_ws('|', vehicle_id, component, s.position)), 12), s.position
    ) - 1 as position_no,
    s.positions,
    s.window_no
from slot as s
inner join asked using (vehicle_id, component)
