-- One row per : withdrawal made when a load was there that is now taken again
-- Reads       : withdrawal_before
-- Parameters  : old BIGINT, number of the load
--             : new BIGINT, its number now
-- Why         : what was withdrawn stays withdrawn under the new number

update withdrawal
set load_id = $new
from withdrawal_before as b
where
    withdrawal.feed_source = b.feed_source
    and withdrawal.record_id = b.record_id
    and withdrawal.line_no is not distinct from b.line_no
    and withdrawal.withdrawn_at = b.withdrawn_at
    and b.load_id >= $old
