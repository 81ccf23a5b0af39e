-- One row per : quarantined row of one feed table, whatever became of it
-- Reads       : quarantine_row
-- Parameters  : table VARCHAR
-- Returns     : quarantine_id BIGINT
--             : held_source VARCHAR
--             : held_settings BIGINT, the load whose settings read it
-- Order       : quarantine_id

select
    quarantine_id,
    feed_source as held_source,
    settings_load as held_settings
from quarantine_row
where table_name = $table
order by quarantine_id
