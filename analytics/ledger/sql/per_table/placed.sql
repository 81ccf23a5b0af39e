-- One row per : accepted row of one part of this feed table, and what becomes of it if it stands alone
-- Why         : a row is doubtful where other rows have a claim on its key: of the feed, of the ledger, of the quarantine

with line as (

    select
        n,
        feed_source,
        shared or ${unknown_car} as claimed,
        key_text || ${first} as row_key,
        content_hash
    from accepted_in as l

)

select
    l.n,
    l.row_key,
    case
        when l.claimed then 'doubtful'
        when h.key_hash is null then 'new'
        when h.content_hash = hash(l.content_hash) then 'unchanged'
        else 'doubtful'
    end as verdict
from line as l
left join held_key as h on hash(l.feed_source, l.row_key) = h.key_hash
order by l.n
