-- One row per : fitting told by an owner's papers, and what was made of it (rule 20)
-- Reads       : fitted, car, slot, repair
-- Parameters  : as_of DATE, last day that counts
--             : renumber_days INTEGER, an order of ours so near to the told days is the same fitting
-- Returns     : step_no INTEGER, -1, -2, -3 by car, component and first day: below 0, beside the numbers of repairs
--             : slot_no INTEGER, null where the car has no such position
--             : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR, null where the car has no such position
--             : fitted_from DATE
--             : fitted_on DATE, the middle of the told days
--             : told_days INTEGER, length of the told interval, 0 = told to the day
--             : part_no VARCHAR
--             : joined_on DATE
--             : fate VARCHAR, used, or why not
-- Order       : vehicle_id, component, position, fitted_from

with told as (

    select
        s.slot_no,
        f.vehicle_id,
        f.component,
        s.position,
        f.fitted_from,
        greatest(coalesce(f.fitted_to, f.fitted_from), f.fitted_from) as fitted_to,
        f.part_no,
        c.joined_on,
        c.vehicle_id is not null as known_car
    from fitted as f
    left join car as c using (vehicle_id)
    left join slot as s
        on
            f.vehicle_id = s.vehicle_id
            and f.component = s.component
            and not s.whole_car
            and (f.position = s.position or s.positions = 1)

),

-- papers and order books name the same job by days that differ a little
ours as (

    select distinct
        t.vehicle_id,
        t.component,
        t.position,
        t.fitted_from
    from told as t
    inner join repair as r
        on
            t.vehicle_id = r.vehicle_id
            and t.component = r.component
            and t.position = r.position
            and r.renews
            and r.closed_on >= t.fitted_from - $renumber_days
            and r.fault_on <= t.fitted_to + $renumber_days

)

select
    -(row_number() over (order by t.vehicle_id, t.component, t.position, t.fitted_from, t.part_no))::integer as step_no,
    t.slot_no,
    t.vehicle_id,
    t.component,
    t.position,
    t.fitted_from,
    t.fitted_from + ((t.fitted_to - t.fitted_from) // 2)::integer as fitted_on,
    (t.fitted_to - t.fitted_from)::integer as told_days,
    t.part_no,
    t.joined_on,
    case
        when fitted_on > $as_of then 'after the as-of day'
        when not t.known_car or t.joined_on is null then 'car not seen here'
        when t.position is null then 'position not told or not on the car'
        when o.vehicle_id is not null then 'the order is held'
        else 'used'
    end as fate
from told as t
left join ours as o
    on
        t.vehicle_id = o.vehicle_id
        and t.component = o.component
        and t.position = o.position
        and t.fitted_from = o.fitted_from
order by t.vehicle_id, t.component, t.position, t.fitted_from
