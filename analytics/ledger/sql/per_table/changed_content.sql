-- One row per : this feed table: rows held, and those whose content is not that of their hash

select
    count(*) as held,
    count(*) filter (content_hash != md5(${content})) as changed
from ${revision}
