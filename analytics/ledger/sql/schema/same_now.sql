-- One row per : name that is read as another one
-- Reads       : same_name
-- Why         : an empty new name takes back what was said before

create view same_now as

select
    kind,
    old_name,
    arg_max_null(new_name, step) as new_name
from same_name
group by kind, old_name
having arg_max_null(new_name, step) is not null
