-- One row per : accepted row of one part of this feed table, and what becomes of it where it stands alone
-- Why         : a row is doubtful where other rows have a claim on its key: of the feed, of the ledger, of the quarantine

create or replace temp table placed as

with line as (

    select
        n,
        file,
        row_no,
        feed_source,
        shared or ${unknown_car} as claimed,
        to_json([${key}])::varchar as key_text,
        md5(${content}) as content_hash
    from accepted_in as l

)

select
    l.* exclude (claimed),
    case
        when l.claimed then 'doubtful'
        when h.key_hash is null then 'new'
        when h.content_hash = hash(l.content_hash) then 'unchanged'
        else 'doubtful'
    end as verdict,
    l.key_text || ${first} as row_key
from line as l
left join held_key as h on hash(l.feed_source, l.key_text || ${first}) = h.key_hash
