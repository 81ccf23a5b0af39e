-- One row per : kind of row the ledger holds, also of loads undone
-- Reads       : revision_row, quarantine_row, set_aside, withdrawal
-- Returns     : kind VARCHAR
--             : n BIGINT
-- Order       : kind

select
    'revision' as kind,
    count(*) as n
from revision_row
union all
select
    'quarantined value' as kind,
    count(*) as n
from quarantine_row
union all
select
    'value set aside' as kind,
    count(*) as n
from set_aside
union all
select
    'withdrawal' as kind,
    count(*) as n
from withdrawal
order by kind
