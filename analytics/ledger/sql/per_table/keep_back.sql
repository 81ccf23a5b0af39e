insert into doubtful by name

select *
from doubtful_in
