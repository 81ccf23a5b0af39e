insert into ${revision} by name

select
    * exclude (n, quarantine_id, key_text, verdict),
    1 as revision,
    $load_id as load_id
from placed
where verdict = 'new'
