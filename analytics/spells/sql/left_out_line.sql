-- One row per : reason why a repair line was left out, or what was filled in on it (rules 1, 5, 6, 8, 12-14)
-- Reads       : repair_line, vehicles, order_line, line
-- Parameters  : as_of DATE, last day that counts
-- Returns     : kind VARCHAR
--             : count BIGINT, lines
--             : out_of BIGINT, lines it could have been
--             : example_record VARCHAR
--             : says VARCHAR, what was done about it
-- Order       : kind

with words (kind, says) as (

    values
    ('part sold for a named car, read as a repair', 'no job is recorded yet; replaced, reason not recorded'),
    ('line closed after the as-of day', 'not known on that day: left out everywhere'),
    ('line of a car that is not in vehicles', 'left out: without a series there is nothing to compare it with'),
    ('opened after it was closed', 'the day of opening is set aside; the day of closing counts'),
    ('number used again', 'lines of one number far apart are read as two orders'),
    ('component taken from the part number', 'the part belongs to one component only'),
    ('identical lines without a number', 'one repair; their quantities add'),
    ('no component', 'counts as a visit; no failure of anything'),
    ('action not recorded', 'read as replaced with a part, as none without'),
    ('reason not recorded, read as failure', 'marked; above a share the curve is shown both ways'),
    ('reason not recorded, read as changed in passing', 'a line of the same order is planned'),
    ('quantity not recorded', 'taken as 1'),
    ('part credited or quantity of 0', 'the part is taken as not used; the failure stays')

),

found as (

    select
        line_id,
        'part sold for a named car, read as a repair' as kind
    from repair_line
    where from_sale and closed_on <= $as_of
    union all
    select
        r.line_id,
        'line of a car that is not in vehicles' as kind
    from repair_line as r
    anti join vehicles as v using (vehicle_id)
    union all
    select
        r.line_id,
        'line closed after the as-of day' as kind
    from repair_line as r
    semi join vehicles as v using (vehicle_id)
    where r.closed_on > $as_of
    union all
    select
        line_id,
        unnest([
            case when opened_set_aside then 'opened after it was closed' end,
            case when order_part > 1 then 'number used again' end
        ]) as kind
    from order_line
    union all
    -- their number was formed from their words, so the same number means the same words
    select
        line_id,
        'identical lines without a number' as kind
    from line
    where list_contains(string_split(inferred, ';'), 'record_id')
    qualify row_number() over (partition by order_id order by line_no, line_id) > 1
    union all
    select
        l.line_id,
        unnest([
            case when r.component is null and l.component is not null then 'component taken from the part number' end,
            case when l.component is null then 'no component' end,
            case when r.action is null then 'action not recorded' end,
            case when l.reason = 'not recorded' then 'reason not recorded, read as ' || l.reads_as end,
            case when r.quantity is null and l.part_used then 'quantity not recorded' end,
            case when l.net_quantity <= 0 and l.part_no is not null then 'part credited or quantity of 0' end
        ]) as kind
    from line as l
    inner join order_line as o using (line_key)
    inner join repair_line as r on o.row_no = r.rowid
    where
        l.component is null
        or r.component is null
        or r.action is null
        or l.reason = 'not recorded'
        or r.quantity is null and l.part_used
        or l.net_quantity <= 0 and l.part_no is not null

)

select
    w.kind,
    count(*) as count,
    (select count(*) from repair_line) as out_of,
    min(f.line_id) as example_record,
    w.says
from found as f
inner join words as w using (kind)
group by w.kind, w.says
order by w.kind
