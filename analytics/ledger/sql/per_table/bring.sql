insert into brought

select row_key
from placed
where verdict != 'doubtful'
