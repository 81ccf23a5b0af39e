-- One row per : setting, as the newest load that states it says
-- Reads       : setting, undone_load
-- Returns     : name VARCHAR
--             : value VARCHAR, JSON
-- Order       : name

select
    name,
    arg_max(value, load_id) as value
from setting
anti join undone_load using (load_id)
group by name
order by name
