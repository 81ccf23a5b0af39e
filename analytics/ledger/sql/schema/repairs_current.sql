-- One row per : repair line that counts: newest revision of loads not undone, not withdrawn
-- Reads       : repairs_latest, withdrawal
-- Why         : a withdrawal hides what was loaded up to then, not a later version

create view repairs_current as

select r.*
from repairs_latest as r
where
    not exists (
        select 1
        from withdrawal as w
        where
            w.feed_source = r.feed_source
            and w.record_id = r.record_id
            and (w.line_no is null or w.line_no = r.line_no)
            and w.load_id >= r.load_id
    )
