-- One row per : component of a car on which some unit may have to be filled in (rules 13, 16, 17)
-- Reads       : line, line_place, parts
-- Parameters  : none
-- Returns     : window_no INTEGER
-- Order       : none

-- where every line names its position and renews one unit at most, nothing is filled in
select p.window_no
from line_place as p
inner join line as l using (line_key)
where
    p.positions > 1
    and (
        p.position is null
        or l.quantity > 1
        or l.part_no in (select part_no from parts where covers_positions > 1)
    )
union
select window_no
from line_place
where positions > 1 and renews
group by order_no, window_no, place_no
having count(*) > 1
