-- One row per : car; of one with several ids, what its own row leaves empty is taken from the others
-- Reads       : vehicles of the ledger, name_read
-- Why         : hides the ledger's own view for this connection only; a leaving told of another id is not taken over,
--               as the car goes on under its own

create or replace temp view vehicles as

with told as (

    select
        r.* replace (coalesce(n.shown, r.vehicle_id) as vehicle_id),
        row_number() over (
            partition by coalesce(n.shown, r.vehicle_id) order by n.shown is not null, r.vehicle_id
        ) as turn,
        string_split(r.inferred, ';') as marks
    from ${ledger}.main.vehicles as r
    left join name_read as n
        on n.kind = 'vehicle' and n.written = r.vehicle_id

)

select
    vehicle_id,
    arg_min(series, turn) as series,
    arg_min(built_on, turn) as built_on,
    arg_min(serial, turn) as serial,
    arg_min_null(left_on, turn) as left_on,
    arg_min_null(left_why, turn) as left_why,
    arg_min(owner_key, turn) as owner_key,
    arg_min(odometer_digits, turn) as odometer_digits,
    nullif(concat_ws(
        ';',
        case
            when arg_min(coalesce(list_contains(marks, 'built_on'), false), turn) filter (where built_on is not null)
                then 'built_on'
        end,
        case when list_contains(arg_min_null(marks, turn), 'left_on') then 'left_on' end
    ), '') as inferred
from told
group by vehicle_id
