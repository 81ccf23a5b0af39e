-- One row per : quarantined row x column, of loads not undone
-- Reads       : quarantine_row, quarantine_end, undone_load
-- Why         : status is open, mended or withdrawn; an end brought by a load that was undone does not count

create view quarantine as

with ended as (

    select
        quarantine_id,
        arg_max(status, ended_at) as status,
        arg_max(by_hand, ended_at) as by_hand,
        arg_max(reason, ended_at) as reason
    from quarantine_end
    where load_id is null or load_id not in (select load_id from undone_load)
    group by quarantine_id

)

select
    q.quarantine_id,
    coalesce(e.status, 'open') as status,
    q.load_id,
    q.settings_load,
    q.table_name,
    q.feed_source,
    q.row_key,
    q.row_hash,
    q.contested,
    q.file,
    q.row_no,
    q.column_name,
    q.value,
    q.says,
    q.vehicle_id,
    q.day,
    q.planned,
    q.row_json,
    coalesce(e.by_hand, false) as by_hand,
    e.reason as ended_why
from quarantine_row as q
left join ended as e using (quarantine_id)
where q.load_id not in (select load_id from undone_load)
