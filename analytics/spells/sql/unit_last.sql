-- One row per : position of a car with the unit in it on the as-of day, from all orders (rule 24)
-- Reads       : stretch, slot_event, unit_variant, stretch_start
-- Parameters  : as_of DATE, last day that counts
-- Returns     : slot_no INTEGER
--             : unit_no BIGINT
--             : variant VARCHAR
--             : part_no VARCHAR
--             : part_origin VARCHAR
--             : fitted_on DATE, null where not known
--             : zero_on DATE, fitting, or joining where that is not known
--             : age BIGINT, days since zero_on
--             : age_known BOOLEAN
--             : state VARCHAR
--             : start_record VARCHAR
--             : start_order VARCHAR
--             : start_fault_on DATE
--             : vehicle_age BIGINT, days since built_on at zero_on
-- Order       : none

with last_stretch as (

    select max(stretch_id) as stretch_id
    from stretch
    where not whole_car
    group by slot_no

),

history as (

    select
        slot_no,
        unit_no,
        bool_or(is_fault) as failed,
        arg_max(
            not does, event_no
        ) filter (where does or reads_as = 'found at inspection') as left_as_found
    from slot_event
    group by slot_no, unit_no

)

select
    s.slot_no,
    s.unit_no,
    v.variant,
    v.part_no,
    s.part_origin,
    case when s.told_by <> 'nobody' then s.zero_on end as fitted_on,
    s.zero_on,
    ($as_of - s.zero_on)::bigint as age,
    s.age_known,
    case
        when h.left_as_found then 'fault found and left'
        when h.failed then 'after repair'
        else 'running'
    end as state,
    f.start_line as start_record,
    f.start_order,
    f.start_fault_on,
    (s.zero_on - s.built_on)::bigint as vehicle_age
from stretch as s
semi join last_stretch using (stretch_id)
left join (select * from stretch_start where began_event is not null) as f on s.fit_stretch_id = f.stretch_id
inner join unit_variant as v on s.stretch_id = v.stretch_id
left join history as h on s.slot_no = h.slot_no and s.unit_no = h.unit_no
