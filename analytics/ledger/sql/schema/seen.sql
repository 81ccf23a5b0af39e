-- One row per : open quarantined repair line whose car and day are readable
-- Reads       : quarantine
-- Why         : the car was here that day, whatever else the line says (rule 3)

create view seen as

select
    q.vehicle_id,
    q.day,
    bool_and(q.planned) as planned,
    case
        when q.feed_source = '' and not contains(coalesce(q.row_json ->> 'record_id', ''), ':') then ''
        else q.feed_source || ':'
    end
    || coalesce(q.row_json ->> 'record_id', q.file || ' row ' || q.row_no)
    || '/' || coalesce(q.row_json ->> 'line_no', '1') as line_id
from quarantine as q
where
    q.status = 'open'
    and q.table_name = 'repairs'
    and q.vehicle_id is not null
    and q.day is not null
group by all
