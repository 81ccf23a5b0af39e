insert into ${revision} by name

select
    a.* exclude (n, quarantine_id),
    d.row_key,
    d.revision,
    $load_id as load_id,
    d.content_hash
from accepted_in as a
inner join decided as d using (n)
where d.verdict in ('new', 'revised')
order by a.n
