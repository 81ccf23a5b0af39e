-- One row per : pair of names of one kind that are probably one, misspelt
-- Reads       : name_in
-- Parameters  : sides VARCHAR[], words that say where something is
-- Returns     : kind VARCHAR
--             : old_name VARCHAR, the one not declared, else the rarer one
--             : old_lines BIGINT, repair lines that have it
--             : old_example VARCHAR, one of them
--             : new_name VARCHAR
--             : new_lines BIGINT
--             : new_example VARCHAR
--             : similarity DOUBLE, 0-1
-- Order       : kind, similarity desc, old_name, new_name

with pairs as (

    select
        a as one,
        b as other,
        a.kind in ('part', 'vehicle') as numbered,
        list_zip(a.words, b.words) as beside
    from name_in as a
    inner join name_in as b
        on
            a.kind = b.kind
            and a.figures = b.figures
            and a.name < b.name
            and not (a.declared and b.declared)
            and a.series is not distinct from b.series
            and abs(length(a.bare) - length(b.bare)) <= 4

),

-- word by word: a short word must be the same, a longer one may have a slip, a long one two; another side is no slip
alike as (

    from pairs
    where
        (one.bare <> '' and one.bare = other.bare)
        or (not numbered and list_sort(one.words) = list_sort(other.words))
        or (
            not numbered
            and len(one.words) = len(other.words)
            and list_bool_and(list_transform(
                beside,
                lambda pair: pair[1] = pair[2] or (
                    greatest(length(pair[1]), length(pair[2])) >= 4
                    and not (list_contains($sides, pair[1]) and list_contains($sides, pair[2]))
                    and damerau_levenshtein(pair[1], pair[2])
                    <= case when least(length(pair[1]), length(pair[2])) >= 8 then 2 else 1 end
                )
            ))
        )

),

turned as (

    select
        one,
        other,
        case
            when one.declared or other.declared then other.declared
            when one.lines <> other.lines then one.lines < other.lines
            else one.name > other.name
        end as first_is_old,
        jaro_winkler_similarity(one.key, other.key) as similarity
    from alike

),

placed as (

    select
        case when first_is_old then one else other end as old,
        case when first_is_old then other else one end as new,
        similarity
    from turned

)

select
    old.kind as kind,
    old.name as old_name,
    old.lines as old_lines,
    old.example as old_example,
    new.name as new_name,
    new.lines as new_lines,
    new.example as new_example,
    similarity
from placed
-- two slips of one name lead to that name, not to each other
qualify
    new.declared
    or (
        not bool_or(new.declared) over (partition by old.kind, old.name)
        and row_number() over (partition by old.kind, old.name order by new.lines desc, similarity desc, new.name) = 1
    )
order by kind, similarity desc, old_name, new_name
