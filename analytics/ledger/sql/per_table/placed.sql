-- One row per : accepted row of one part of this feed table, what it is known by, and what becomes of it if it stands alone
-- Why         : a row is doubtful where other rows have a claim on its key: of the feed, of the ledger, of the quarantine

with line as (

    select
        n,
        feed_source,
        shared or ${unknown_car} as claimed,
        to_json([${key}])::varchar as key_text,
        md5(${content}) as content_hash
    from accepted_in as l

)

select
    l.n,
    l.key_text,
    l.key_text || ${first} as row_key,
    l.content_hash,
    case
        when l.claimed then 'doubtful'
        when h.key_hash is null then 'new'
        when h.content_hash = hash(l.content_hash) then 'unchanged'
        else 'doubtful'
    end as verdict
from line as l
left join held_key as h on hash(l.feed_source, l.key_text || ${first}) = h.key_hash
order by l.n
