-- One row per : load not undone
-- Reads       : load, undone_load
-- Parameters  : feed_hash VARCHAR, only loads of this feed; empty = all
-- Returns     : load_id BIGINT
--             : loaded_at TIMESTAMP
--             : loaded_on DATE
--             : source VARCHAR
--             : feed_hash VARCHAR
--             : mapping_hash VARCHAR
--             : files VARCHAR
--             : complete BOOLEAN
--             : to_quarantine BIGINT, rows x columns that went to quarantine now
--             : rows_read BIGINT
--             : accepted BIGINT
--             : unchanged BIGINT
--             : repeated BIGINT
--             : revised BIGINT
--             : quarantined BIGINT
--             : set_aside BIGINT
-- Order       : load_id

select *
from load
anti join undone_load using (load_id)
where $feed_hash in ('', feed_hash)
order by load_id
