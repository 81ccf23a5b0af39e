-- One row per : key; where several sources know it, the one that changed last

create view ${current} as

select r.*
from ${latest} as r
qualify row_number() over (partition by r.row_key order by r.load_id desc, r.feed_source) = 1
