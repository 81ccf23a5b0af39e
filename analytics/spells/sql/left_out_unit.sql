-- One row per : what was filled in or merged on the way from lines to repairs (rules 12, 15, 16, 17, 21)
-- Reads       : components, line, line_place, component_fact, repair
-- Parameters  : none
-- Returns     : kind VARCHAR
--             : count BIGINT
--             : out_of BIGINT, lines with a component, or repairs
--             : example_record VARCHAR
--             : says VARCHAR, what was done about it
-- Order       : kind

with words (kind, says) as (

    values
    ('component that the table of components does not name', 'it has the positions ever recorded in the series'),
    ('component not on the car', 'counts as a repair; the series gives the component no exposure'),
    ('position that the car does not have', 'read as not recorded'),
    ('position filled in', 'the unit of longest time since renewal'),
    ('position taken from the same order', 'another line of the order names it'),
    ('component shown for the whole car', 'too many lines without position'),
    ('several lines of one repair', 'one repair: the strongest reason, the most renewing action'),
    ('renewed in passing by a pair or quantity', 'the oldest units beside the one that the line names'),
    ('renewed beside a failure without a reason', 'read as changed in passing'),
    ('fault met when the car joined', 'existed before: no event; it belongs to the joiners'' demand')

),

found as (

    select
        l.line_id,
        1 as lines,
        unnest([
            case
                when not c.declared and exists (select 1 from components)
                    then 'component that the table of components does not name'
            end,
            case when p.positions is null then 'component not on the car' end,
            case when c.whole_car and p.positions > 1 then 'component shown for the whole car' end,
            case
                when not c.whole_car and p.positions > 1 and l.position is not null
                    and (p.position is null or p.filled is not null) then 'position that the car does not have'
            end,
            case when not c.whole_car and p.position is null and p.concerns then 'position filled in' end,
            case when not c.whole_car and p.filled is not null then 'position taken from the same order' end
        ]) as kind
    from line_place as p
    inner join line as l using (line_key)
    inner join component_fact as c
        on p.component = c.component
    where not c.declared or c.whole_car or p.position is null or p.positions is null or p.filled is not null
    union all
    select
        line_id,
        lines,
        unnest([
            case when lines > 1 then 'several lines of one repair' end,
            case when lines = 0 then 'renewed in passing by a pair or quantity' end,
            case when beside_failure then 'renewed beside a failure without a reason' end,
            case
                when joining and not ours and reads_as in ('failure', 'found at inspection', 'consequence')
                    then 'fault met when the car joined'
            end
        ]) as kind
    from repair
    where lines <> 1 or beside_failure or joining

)

select
    w.kind,
    sum(case when w.kind = 'several lines of one repair' then f.lines - 1 else 1 end)::bigint as count,
    case
        when w.kind like '%repair' or w.kind like 'renewed%' or w.kind like 'fault%' then (select count(*) from repair)
        else (select count(*) from line_place)
    end as out_of,
    min(f.line_id) as example_record,
    w.says
from found as f
inner join words as w using (kind)
group by w.kind, w.says
order by w.kind
