-- One row per : component declared or recorded, with its share of lines without position (rule 16)
-- Reads       : components, line_place
-- Parameters  : blank_position_share DOUBLE, above this share the component is shown for the whole car
--             : safety_pattern VARCHAR, finds what is critical by name, in lower case (rule 39)
-- Returns     : component VARCHAR
--             : system VARCHAR, null if not declared
--             : family VARCHAR
--             : seen_at_service BOOLEAN
--             : safety_critical BOOLEAN
--             : safety_told_by VARCHAR, stated, by name or nobody
--             : declared BOOLEAN
--             : lines_of_positions BIGINT, lines that concern one of several units
--             : blank_lines BIGINT, of these, without a position the car has
--             : blank_share DOUBLE, 0-1; null without such lines
--             : whole_car BOOLEAN
-- Order       : component

with declared as (

    select
        component,
        min(system) as system,
        min(family) as family,
        coalesce(bool_or(seen_at_service), false) as seen_at_service,
        bool_or(safety_critical) as safety_stated,
        bool_or(regexp_matches(lower(system), $safety_pattern)) as system_critical
    from components
    group by component

),

-- a check of all positions names none and hides none, so only lines that concern a unit are counted
shares as (

    select
        component,
        count(*) as lines_of_positions,
        count(*) filter (where position is null) as blank_lines
    from line_place
    where positions > 1 and concerns
    group by component

),

named as (

    select
        component,
        regexp_matches(lower(component), $safety_pattern) as component_critical
    from (
        select component from declared
        union
        select component from line_place
    )

)

select
    n.component,
    d.system,
    d.family,
    coalesce(d.seen_at_service, false) as seen_at_service,
    -- what is stated wins, a no as a yes; only what is left unsaid goes by name
    coalesce(d.safety_stated, d.system_critical or n.component_critical, false) as safety_critical,
    case
        when d.safety_stated is not null then 'stated'
        when d.system_critical or n.component_critical then 'by name'
        else 'nobody'
    end as safety_told_by,
    d.component is not null as declared,
    coalesce(s.lines_of_positions, 0) as lines_of_positions,
    coalesce(s.blank_lines, 0) as blank_lines,
    s.blank_lines / s.lines_of_positions as blank_share,
    coalesce(s.blank_lines > $blank_position_share * s.lines_of_positions, false) as whole_car
from named as n
left join declared as d using (component)
left join shares as s using (component)
order by n.component
