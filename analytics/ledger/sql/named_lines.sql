-- One row per : repair line that counts, or quarantined line, that a person names by its order or line
-- Reads       : repairs_current, quarantine
-- Parameters  : name VARCHAR, [source:]record_id or [source:]record_id/line_no, as line_id of repairs has it
-- Returns     : feed_source VARCHAR
--             : record_id VARCHAR
--             : line_no BIGINT, null = the whole order was named
--             : lines BIGINT
--             : quarantine_id BIGINT, null = not quarantined
-- Order       : feed_source, record_id, line_no, quarantine_id

with line as (

    select
        feed_source,
        record_id,
        line_no,
        null::bigint as quarantine_id
    from repairs_current
    union all
    select
        feed_source,
        row_json ->> 'record_id' as record_id,
        coalesce(try_cast(row_json ->> 'line_no' as bigint), 1) as line_no,
        quarantine_id
    from quarantine
    where status = 'open' and table_name = 'repairs'

),

named as (

    select
        *,
        case when feed_source = '' and not contains(record_id, ':') then '' else feed_source || ':' end
        || record_id as order_name
    from line

)

select
    feed_source,
    record_id,
    case when order_name = $name then null else line_no end as line_no,
    count(*) as lines,
    quarantine_id
from named
where $name in (order_name, order_name || '/' || line_no)
group by all
order by feed_source, record_id, line_no, quarantine_id
