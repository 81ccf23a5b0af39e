-- One row per : repair told by a line of its own, and whether it can be seen to come back (rules 24, 37)
-- Reads       : repair, order_line, car, car_place
-- Parameters  : as_of DATE, last day that counts
--             : return_days INTEGER, window of a return
-- Returns     : repair_no INTEGER
--             : series VARCHAR
--             : is_blank BOOLEAN, no line of the order names the position
--             : positions BIGINT, of the component on the car
--             : part_used BOOLEAN
--             : fault_on DATE, the car came in
--             : handed_on DATE, the order was handed over
--             : is_dated BOOLEAN, its days are known to the day
--             : failed BOOLEAN, its reason is failure
--             : why_none VARCHAR, null where it is watched
--             : is_new BOOLEAN, a unit of age 0 went in
--             : blank_share DOUBLE, failures without a position, of the component's failures
--             : failure_share DOUBLE, failures, of the component's failures and faults found at inspection
-- Order       : none

with told as (

    select
        r.repair_no,
        c.series,
        r.component,
        case when r.slot_no is null then r.position = 'only' else not r.named and w.positions > 1 end
            as is_blank,
        case when r.slot_no is null then 1 else w.positions end as positions,
        r.part_used,
        r.fault_on,
        r.order_to as handed_on,
        -- from a bare year or month no days can be counted
        v.order_no is null as is_dated,
        r.reads_as = 'failure' as failed,
        case
            when r.action in ('inspected', 'none') or (r.action in ('replaced', 'exchanged') and not r.renews)
                then 'nothing was done to it'
            when not is_dated then 'its day is not known'
            when c.left_on < handed_on + $return_days then 'the car left before'
            when handed_on + $return_days > $as_of then 'not long enough ago'
        end as why_none,
        r.renews and r.part_origin is distinct from 'used' as is_new,
        r.reads_as = 'found at inspection' as found
    from repair as r
    inner join car as c using (vehicle_id)
    left join (select distinct order_no from order_line where order_vague) as v using (order_no)
    left join car_place as w using (window_no)
    where r.lines > 0

),

shares as (

    select
        component,
        count(*) filter (where failed and is_blank) / nullif(count(*) filter (where failed), 0) as blank_share,
        count(*) filter (where failed) / nullif(count(*) filter (where failed or found), 0) as failure_share
    from told
    group by component

)

select
    t.* exclude (component, found),
    s.blank_share,
    s.failure_share
from told as t
inner join shares as s using (component)
