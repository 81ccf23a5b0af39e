-- One row per : piece of a unit's life between long stays in the workshop, by the unit's age (rules 25, 26, 27, 31)
-- Reads       : stretch, stretch_fate, stretch_stay
-- Parameters  : none
-- Returns     : vehicle_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR
--             : unit_no BIGINT
--             : stretch_no BIGINT
--             : entry BIGINT, days
--             : exit BIGINT, days
--             : exit_lower BIGINT, days; null but for a fault found at inspection
--             : event INTEGER
--             : cause VARCHAR
--             : vehicle_age BIGINT, days since built_on at entry
--             : is_last BOOLEAN, the piece in which the spell ends
-- Order       : vehicle_id, component, position, unit_no, entry

with spells as (

    select
        s.vehicle_id,
        s.component,
        s.position,
        s.unit_no,
        s.stretch_no,
        s.zero_on,
        s.built_on,
        s.start_on,
        f.event,
        f.cause,
        f.lower_on,
        f.last_on as ended_on,
        min(t.from_on) filter (where t.covers_end) as stay_from
    from stretch as s
    inner join stretch_fate as f using (vehicle_id, component, position, unit_no, stretch_no)
    left join stretch_stay as t using (vehicle_id, component, position, unit_no, stretch_no)
    where f.why_none is null
    group by all

),

starts as (

    select
        *,
        greatest(start_on, least(ended_on, stay_from)) as last_on,
        start_on as piece_from
    from spells
    union all
    select
        s.*,
        greatest(s.start_on, least(s.ended_on, s.stay_from)) as last_on,
        t.to_on as piece_from
    from spells as s
    inner join stretch_stay as t using (vehicle_id, component, position, unit_no, stretch_no)
    where not t.covers_end

),

pieces as (

    select
        p.*,
        min(t.from_on) filter (where t.to_on > p.piece_from) as next_stay_on
    from starts as p
    left join stretch_stay as t using (vehicle_id, component, position, unit_no, stretch_no)
    group by all

),

aged as (

    select
        *,
        least(last_on, next_stay_on) as piece_to,
        piece_to = last_on as is_last,
        (piece_from - zero_on)::bigint as entry,
        is_last and event = 1 as fails,
        case when fails then greatest(piece_to - zero_on, entry + 1) else piece_to - zero_on end as exit
    from pieces

)

select
    vehicle_id,
    component,
    position,
    unit_no,
    stretch_no,
    entry,
    exit::bigint as exit,
    case when is_last and lower_on is not null then least(greatest(lower_on - zero_on, entry), exit - 1) end::bigint
        as exit_lower,
    fails::integer as event,
    case when is_last then cause else 'window end' end as cause,
    (piece_from - built_on)::bigint as vehicle_age,
    is_last
from aged
where exit > entry
order by vehicle_id, component, position, unit_no, entry
