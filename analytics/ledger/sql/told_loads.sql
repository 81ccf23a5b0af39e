-- One row per : load, or undoing of one, as the ledger's own tables tell it
-- Reads       : load, undone_load
-- Returns     : did VARCHAR, load or undo
--             : done_at TIMESTAMP
--             : load_id BIGINT, number of the load brought or undone
--             : feed VARCHAR
--             : loaded_on DATE
--             : complete BOOLEAN
--             : again BIGINT[], numbers under which later loads were taken again
-- Order       : done_at, load_id
-- Why         : the journal can be written again from it where it was lost

with undone as (

    select
        undone_at as done_at,
        min(load_id) as load_id,
        count(*) - 1 as later
    from undone_load
    group by undone_at

),

taken_again as (

    select
        u.done_at,
        l.load_id
    from undone as u
    inner join load as l on u.done_at <= l.loaded_at
    qualify row_number() over (partition by u.done_at order by l.load_id) <= u.later

),

step as (

    select
        'load' as did,
        loaded_at as done_at,
        load_id,
        feed_hash as feed,
        loaded_on,
        complete
    from load
    anti join taken_again using (load_id)
    union all by name
    select
        'undo' as did,
        u.done_at,
        u.load_id,
        coalesce(list(a.load_id order by a.load_id) filter (a.load_id is not null), []) as again
    from undone as u
    left join taken_again as a on u.done_at = a.done_at
    group by all

)

select
    did,
    done_at,
    load_id,
    feed,
    loaded_on,
    complete,
    again
from step
order by done_at, load_id
