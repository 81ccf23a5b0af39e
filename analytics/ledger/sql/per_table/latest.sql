-- One row per : source x key, newest revision of loads not undone

create view ${latest} as

select r.*
from ${revision} as r
where r.load_id not in (select load_id from undone_load)
qualify row_number() over (partition by r.feed_source, r.row_key order by r.load_id desc, r.revision desc) = 1
