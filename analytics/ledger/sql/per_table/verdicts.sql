-- One row per : accepted row of one part of a feed table

select
    n,
    file,
    verdict
from placed
