insert into doubtful by name

select * exclude (verdict, row_key)
from placed
where verdict = 'doubtful'
