-- One row per : piece of a unit's life that a long stay in the workshop cuts, by the unit's age, and choice of the end
--             : of watching (rules 25, 26, 27, 31)
-- Reads       : stretch_fate, stretch_stay
-- Parameters  : none
-- Returns     : ending INTEGER, as in watch_end
--             : stretch_id INTEGER
--             : entry INTEGER, days
--             : exit INTEGER, days
--             : exit_lower INTEGER, days; null but for a fault found at inspection
--             : event INTEGER
--             : vehicle_age INTEGER, days since built_on at entry
--             : is_last BOOLEAN, the piece in which the spell ends
-- Order       : none

with ends as (

    select
        ending,
        stretch_id,
        min(from_on) as stay_from
    from stretch_stay
    where covers_end
    group by ending, stretch_id

),

stayed as (

    select
        f.* replace (greatest(f.start_on, least(f.last_on, e.stay_from)) as last_on)
    from stretch_fate as f
    semi join stretch_stay using (ending, stretch_id)
    left join ends as e using (ending, stretch_id)

),

starts as (

    select
        *,
        start_on as piece_from
    from stayed
    union all
    select
        s.*,
        t.to_on as piece_from
    from stayed as s
    inner join stretch_stay as t using (ending, stretch_id)
    where not t.covers_end

),

next_stay as (

    select
        p.ending,
        p.stretch_id,
        p.piece_from,
        min(t.from_on) as next_stay_on
    from starts as p
    inner join stretch_stay as t using (ending, stretch_id)
    where t.to_on > p.piece_from
    group by p.ending, p.stretch_id, p.piece_from

),

pieces as (

    select
        * exclude (next_stay_on),
        least(last_on, next_stay_on) as piece_to,
        piece_to = last_on as is_last
    from starts
    left join next_stay using (ending, stretch_id, piece_from)

)

select
    ending,
    stretch_id,
    (piece_from - zero_on)::integer as entry,
    case when p.event = 1 and is_last then greatest(piece_to - zero_on, entry + 1) else piece_to - zero_on end::integer
        as exit,
    case when is_last and lower_on is not null then least(greatest(lower_on - zero_on, entry), exit - 1) end::integer
        as exit_lower,
    (p.event = 1 and is_last)::integer as event,
    (piece_from - built_on)::integer as vehicle_age,
    is_last
from pieces as p
where exit > entry
