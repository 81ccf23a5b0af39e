-- One row per : row of content_in, in its order
-- Reads       : content_in
-- Parameters  : none
-- Returns     : digest VARCHAR, 16 hexadecimal digits of the content's SHA-256
-- Order       : place

select
    left(sha256(content), 16) as digest
from content_in
order by place
