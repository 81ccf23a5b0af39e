-- One row per : accepted row that the ledger cannot take beside what it holds (rules 3 and 5)
-- Reads       : decided
-- Parameters  : key VARCHAR, names of the key columns, for people
-- Returns     : n BIGINT
--             : contested BOOLEAN
--             : column_name VARCHAR
--             : value VARCHAR
--             : says VARCHAR
--             : vehicle_id VARCHAR
--             : day DATE
--             : planned BOOLEAN
-- Order       : n

with shown as (

    select
        *,
        left(regexp_replace(replace(content, ',"', ', '), '[{}"]', '', 'g'), 300) as this_row,
        left(regexp_replace(replace(other, ',"', ', '), '[{}"]', '', 'g'), 300) as other_row,
        other_file || ' row ' || other_row_no || coalesce(', load ' || other_load, '') as other_place
    from decided

)

select
    n,
    verdict != 'unknown car' as contested,
    case verdict
        when 'unknown car' then 'vehicle_id'
        when 'renumbered' then 'record_id'
        else $key
    end as column_name,
    case verdict
        when 'unknown car' then content ->> 'vehicle_id'
        when 'renumbered' then content ->> 'record_id'
        else array_to_string(json_extract_string(row_key, '$[*]'), ', ')
    end as value,
    case verdict
        when 'unknown car'
            then format(
                '{} is no known car: add it to vehicles, or correct vehicle_id here, and load again',
                content ->> 'vehicle_id'
            )
        when 'renumbered'
            then format(
                'the same number names another job. This row: {}. The other ({}): {}. If numbers start again, '
                'state record_id = year + number in the mapping{} and load again; if this row corrects the other, '
                'withdraw the other first',
                this_row, other_place, other_row, coalesce(', undo load ' || other_load, '')
            )
        else
            format(
                'two rows have the same {}. This row: {}. The other ({}): {}. Correct {} here, or withdraw this row',
                $key, this_row, other_place, other_row, $key
            )
    end as says,
    content ->> 'vehicle_id' as vehicle_id,
    coalesce(content ->> 'opened_on', content ->> 'closed_on')::date as day,
    coalesce(content ->> 'reason' = 'planned', false) as planned
from shown
where verdict in ('unknown car', 'renumbered', 'contradicts')
order by n
