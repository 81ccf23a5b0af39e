insert into brought

select row_key
from brought_in
