-- One row per : quarantined row a person withdrew, as a load taken again quarantined it anew
-- Reads       : quarantine, quarantine_row, quarantine_end
-- Parameters  : first_again BIGINT, first of the loads taken again
-- Returns     : quarantine_id BIGINT
--             : status VARCHAR
--             : by_hand BOOLEAN
--             : reason VARCHAR
--             : ended_at TIMESTAMP
-- Order       : quarantine_id

select
    q.quarantine_id,
    arg_max(e.status, e.ended_at) as status,
    true as by_hand,
    arg_max(e.reason, e.ended_at) as reason,
    max(e.ended_at) as ended_at
from quarantine as q
inner join quarantine_row as old
    on
        q.table_name = old.table_name
        and q.feed_source = old.feed_source
        and q.row_hash = old.row_hash
        and q.column_name = old.column_name
        and q.quarantine_id != old.quarantine_id
inner join quarantine_end as e
    on old.quarantine_id = e.quarantine_id and e.load_id is null
where q.status = 'open' and q.load_id >= $first_again
group by q.quarantine_id
order by q.quarantine_id
