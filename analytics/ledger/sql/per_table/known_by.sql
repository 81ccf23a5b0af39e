-- One row per : accepted row of one part of this feed table, in its order: its key and what it says

select
    to_json([${key}])::varchar as key_text,
    md5(${content}) as content_hash
from judged_in
