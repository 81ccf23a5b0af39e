insert into ${revision} by name

select
    a.* exclude (n, quarantine_id, key_text),
    d.row_key,
    d.revision,
    $load_id as load_id
from doubtful as a
inner join decided as d using (n)
where d.verdict in ('new', 'revised')
order by a.n
