-- One row per : load under way
-- Reads       : load_file, quarantine_row, quarantine_end
-- Parameters  : load_id BIGINT
-- Returns     : changed BOOLEAN, whether it brought anything the ledger did not hold
-- Order       : changed

select
    exists (from load_file where load_id = $load_id and accepted + revised > 0)
    or exists (from quarantine_row where load_id = $load_id)
    or exists (from quarantine_end where load_id = $load_id) as changed
order by changed
