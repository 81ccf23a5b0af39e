-- One row per : piece of a unit's life between long stays in the workshop, by the unit's age (rules 25, 26, 27, 31)
-- Reads       : stretch_fate, stretch_stay
-- Parameters  : none
-- Returns     : stretch_id BIGINT
--             : entry BIGINT, days
--             : exit BIGINT, days
--             : exit_lower BIGINT, days; null but for a fault found at inspection
--             : event INTEGER
--             : vehicle_age BIGINT, days since built_on at entry
--             : is_last BOOLEAN, the piece in which the spell ends
-- Order       : none

with ends as (

    select
        stretch_id,
        min(from_on) as stay_from
    from stretch_stay
    where covers_end
    group by stretch_id

),

spells as (

    select
        f.stretch_id,
        f.zero_on,
        f.built_on,
        f.start_on,
        f.event,
        f.lower_on,
        greatest(f.start_on, least(f.last_on, e.stay_from)) as last_on
    from stretch_fate as f
    left join ends as e using (stretch_id)
    where f.why_none is null

),

starts as (

    select
        *,
        start_on as piece_from
    from spells
    union all
    select
        s.*,
        t.to_on as piece_from
    from spells as s
    inner join stretch_stay as t using (stretch_id)
    where not t.covers_end

),

-- few spells meet a long stay, so only theirs are looked up
next_stay as (

    select
        p.stretch_id,
        p.piece_from,
        min(t.from_on) as next_stay_on
    from starts as p
    inner join stretch_stay as t on p.stretch_id = t.stretch_id and t.to_on > p.piece_from
    group by p.stretch_id, p.piece_from

),

aged as (

    select
        *,
        least(last_on, next_stay_on) as piece_to,
        piece_to = last_on as is_last,
        (piece_from - zero_on)::bigint as entry,
        is_last and event = 1 as fails,
        case when fails then greatest(piece_to - zero_on, entry + 1) else piece_to - zero_on end as exit
    from starts
    left join next_stay using (stretch_id, piece_from)

)

select
    stretch_id,
    entry,
    exit::bigint as exit,
    case when is_last and lower_on is not null then least(greatest(lower_on - zero_on, entry), exit - 1) end::bigint
        as exit_lower,
    fails::integer as event,
    (piece_from - built_on)::bigint as vehicle_age,
    is_last
from aged
where exit > entry
