-- One row per : accepted row of one part of a feed table, with what it is known by

select
    n,
    file,
    key_text,
    row_key,
    content_hash,
    verdict
from placed
order by n
