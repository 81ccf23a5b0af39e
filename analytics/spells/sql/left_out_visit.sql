-- One row per : what was taken on trust about visits (rules 3, 22, 23)
-- Reads       : visit, car, line, not_neutral
-- Parameters  : none
-- Returns     : kind VARCHAR
--             : count BIGINT, visits
--             : out_of BIGINT, visits
--             : example_record VARCHAR, a line of the visit; null where the ledger holds none
--             : says VARCHAR, what was done about it
-- Order       : kind

with words (kind, says) as (

    values
    ('visit known from a quarantined line only', 'the car was seen; what was done is not known'),
    ('visit of unknown cause', 'it ends the watching of no component'),
    ('visit after the car left', 'the day of leaving counts')

),

unknown as (

    select visit_id from not_neutral
    where component is null

),

found as (

    select
        v.visit_id,
        unnest([
            case
                when v.from_quarantine and not v.from_order and not v.from_reading
                    then 'visit known from a quarantined line only'
            end,
            case when u.visit_id is not null then 'visit of unknown cause' end,
            case when v.day > c.left_on then 'visit after the car left' end
        ]) as kind
    from visit as v
    inner join car as c using (vehicle_id)
    left join unknown as u using (visit_id)

)

select
    w.kind,
    count(distinct f.visit_id) as count,
    (select count(*) from visit) as out_of,
    min(l.line_id) as example_record,
    w.says
from found as f
inner join words as w using (kind)
left join line as l using (visit_id)
group by w.kind, w.says
order by w.kind
