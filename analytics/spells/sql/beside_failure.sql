-- One row per : repair renewed without a reason on an order that tells the failure of another position (rule 17)
-- Reads       : repair_draft
-- Parameters  : none
-- Returns     : repair_no INTEGER
-- Order       : none

-- beside the position that is told to have failed, one renewed without a reason was renewed in passing
select distinct u.repair_no
from repair_draft as u
inner join repair_draft as t
    on u.order_no = t.order_no and u.component = t.component and t.reads_as = 'failure' and t.reason_recorded
where u.reads_as = 'failure' and not u.reason_recorded and u.renews
