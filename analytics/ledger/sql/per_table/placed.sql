-- One row per : accepted row of one part of this feed table, and what becomes of it where it stands alone
-- Why         : a row is doubtful where other rows have a claim on its key: of the feed, of the ledger, of the quarantine

create or replace temp table placed as

with line as (

    select
        *,
        to_json([${key}])::varchar as key_text,
        md5(concat_ws('', ${content})) as content_hash
    from accepted_in

)

select
    l.* exclude (shared),
    case
        when l.shared or ${unknown_car} then 'doubtful'
        when h.key_hash is null then 'new'
        when h.content_hash = hash(l.content_hash) then 'unchanged'
        else 'doubtful'
    end as verdict,
    l.key_text || ${first} as row_key
from line as l
left join held_key as h on hash(l.feed_source, l.key_text || ${first}) = h.key_hash
