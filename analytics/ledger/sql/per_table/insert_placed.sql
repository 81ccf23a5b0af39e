insert into ${revision} by name

select
    *,
    1 as revision,
    $load_id as load_id
from new_in
