-- One row per : source x key, newest revision of loads not undone
-- Why         : hardly any key has a second revision, and only those need to be put in order

create view ${latest} as

with revised as (

    select distinct
        feed_source,
        row_key
    from ${revision}
    where revision > 1

),

live as (

    select *
    from ${revision}
    where load_id not in (select load_id from undone_load)

),

newest as (

    select *
    from live
    semi join revised using (feed_source, row_key)
    qualify row_number() over (partition by feed_source, row_key order by load_id desc, revision desc) = 1

)

select *
from live
anti join revised using (feed_source, row_key)
union all
select * from newest
