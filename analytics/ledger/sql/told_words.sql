-- One row per : thing that a person said to the ledger, as its own tables tell it
-- Reads       : withdrawal, quarantine_end, quarantine_row, same_name
-- Returns     : did VARCHAR, withdraw, same or not same
--             : done_at TIMESTAMP
--             : name VARCHAR, order or line withdrawn
--             : reason VARCHAR
--             : kind VARCHAR
--             : old VARCHAR
--             : new VARCHAR
-- Order       : done_at, name
-- Why         : the journal can be written again from it where it was lost

with withdrawn as (

    select
        withdrawn_at as done_at,
        feed_source,
        record_id,
        line_no,
        reason
    from withdrawal
    union
    select
        e.ended_at as done_at,
        q.feed_source,
        q.row_json ->> 'record_id' as record_id,
        coalesce(try_cast(q.row_json ->> 'line_no' as bigint), 1) as line_no,
        e.reason
    from quarantine_end as e
    inner join quarantine_row as q using (quarantine_id)
    where e.load_id is null and e.status = 'withdrawn' and q.table_name = 'repairs'

),

named as (

    -- a line in quarantine goes with its order where that was withdrawn as a whole
    select *
    from withdrawn
    where record_id is not null
    qualify line_no is null or not bool_or(line_no is null) over (partition by done_at, feed_source, record_id)

),

step as (

    select
        'withdraw' as did,
        done_at,
        case when feed_source = '' and not contains(record_id, ':') then '' else feed_source || ':' end
        || record_id || coalesce('/' || line_no, '') as name,
        reason
    from named
    union all by name
    select
        case when new_name is null then 'not same' else 'same' end as did,
        said_at as done_at,
        kind,
        old_name as old,
        new_name as new
    from same_name

)

select
    did,
    done_at,
    name,
    reason,
    kind,
    old,
    new
from step
order by done_at, name
