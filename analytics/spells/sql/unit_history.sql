-- One row per : unit that a position of a car ever held up to the as-of day, from all orders (rule 24)
-- Reads       : stretch, unit_variant, slot, car
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : series VARCHAR
--             : component VARCHAR
--             : position VARCHAR
--             : unit_no BIGINT
--             : zero_on DATE, fitting, or joining where that is not known
--             : age_known BOOLEAN
--             : is_used BOOLEAN, fitted as a used part (rule 19)
--             : vehicle_age BIGINT, days since built_on at zero_on
--             : variant VARCHAR, where the fitting or the factory tells it, else unknown
-- Order       : vehicle_id, component, position, unit_no

select
    o.vehicle_id,
    c.series,
    o.component,
    o.position,
    s.unit_no,
    s.zero_on,
    s.age_known,
    s.is_used,
    (s.zero_on - s.built_on)::bigint as vehicle_age,
    case when v.variant_told_by in ('fitting', 'factory') then v.variant else 'unknown' end as variant
from stretch as s
inner join unit_variant as v on s.stretch_id = v.stretch_id
inner join slot as o on s.slot_no = o.slot_no
inner join car as c using (vehicle_id)
where s.stretch_no = 1 and not s.whole_car
order by o.vehicle_id, o.component, o.position, s.unit_no
