-- One row per : accepted row of one feed table, and what becomes of it (rules 3, 4 and 5)
-- Reads       : compared
-- Parameters  : is_order BOOLEAN, whether rule 5 applies
--             : renumber_days BIGINT, rule 5
-- Returns     : n BIGINT
--             : file VARCHAR
--             : row_no BIGINT
--             : quarantine_id BIGINT
--             : feed_source VARCHAR
--             : row_key VARCHAR
--             : content_hash VARCHAR
--             : content VARCHAR
--             : verdict VARCHAR
--             : other VARCHAR, content of the row that has the key
--             : other_load BIGINT
--             : other_file VARCHAR
--             : other_row_no BIGINT
--             : revision BIGINT
-- Order       : n

with placed as (

    -- a key stands for the row the ledger holds, else for the first row of the feed that can be taken
    select
        *,
        row_number() over one_key as place,
        first(content_hash) over one_key as first_hash,
        first(content) over one_key as first_content,
        first(file) over one_key as first_file,
        first(row_no) over one_key as first_row_no,
        first(same) over one_key as first_same
    from compared
    window one_key as (
        partition by feed_source, row_key
        order by same desc, unknown_car, n
        rows between unbounded preceding and unbounded following
    )

),

facing as (

    select
        *,
        -- a repetition fares like the first one, so it faces what that one faces
        case when again then held_content else first_content end as other,
        case when again or first_same then held_file else first_file end as other_file,
        case when again or first_same then held_row_no else first_row_no end as other_row_no,
        case when again or first_same then held_load end as other_load
    from (select *, content_hash = first_hash as again from placed) as p

)

select
    n,
    file,
    row_no,
    quarantine_id,
    feed_source,
    row_key,
    content_hash,
    content,
    case
        when unknown_car and not same then 'unknown car'
        when place = 1 and same then 'unchanged'
        when
            $is_order and (counts or not again)
            and (
                content ->> 'vehicle_id' != other ->> 'vehicle_id'
                or abs((content ->> 'closed_on')::date - (other ->> 'closed_on')::date) > $renumber_days
            )
            then 'renumbered'
        when place > 1 and again then 'repeated'
        when place > 1 then 'contradicts'
        when held_load is null then 'new'
        else 'revised'
    end as verdict,
    other,
    other_load,
    other_file,
    other_row_no,
    revisions + 1 as revision
from facing
order by n
