-- One row per : repair with what it did in the life tables, or why nothing
-- Reads       : stretch, spell_fate, repair, slot_step, slot_event
-- Parameters  : none
-- Returns     : repair_no INTEGER
--             : line_id VARCHAR
--             : component VARCHAR
--             : position VARCHAR
--             : ends_unit INTEGER, unit_no of the spell it ends; null if none
--             : cause VARCHAR, how
--             : starts_unit INTEGER, unit_no of the spell it starts; null if none
--             : fits_unit INTEGER, unit_no of the unit it fitted, with a spell or without
--             : why_none VARCHAR, null where it ends or starts a spell
-- Order       : none

with ends as (

    select
        s.slot_no,
        s.end_event as event_no,
        s.unit_no,
        case when s.end_reads_as = 'changed in passing' then 'in passing' else s.end_reads_as end as cause,
        coalesce(f.why_none, case when not f.ended then 'after the last neutral visit' end) as why_none
    from stretch as s
    inner join spell_fate as f using (stretch_id)
    where s.end_event is not null

),

starts as (

    select
        s.slot_no,
        s.began_event as event_no,
        s.unit_no,
        f.why_none
    from stretch as s
    inner join spell_fate as f using (stretch_id)
    where s.began_event is not null

),

roles as (

    select
        r.repair_no,
        r.line_id,
        r.component,
        r.position,
        r.has_slot,
        coalesce(r.whole_car, false) as whole_car,
        e.is_fault,
        e.open_fault,
        e.answered,
        -- papers have no order that could tell
        r.repair_no = case when e.end_step > 0 then e.end_step end as tells_end,
        r.repair_no = case when e.start_step > 0 then e.start_step end as tells_start,
        case when d.why_none is null and tells_end then d.unit_no end as ends_unit,
        d.cause,
        case when b.why_none is null and tells_start then b.unit_no end as starts_unit,
        case when tells_start and e.renews then b.unit_no end as fits_unit,
        d.why_none as end_none,
        b.why_none as start_none
    from repair as r
    left join slot_step as p using (repair_no)
    left join slot_event as e on p.slot_no = e.slot_no and p.event_no = e.event_no
    left join ends as d on e.slot_no = d.slot_no and e.event_no = d.event_no
    left join starts as b on e.slot_no = b.slot_no and e.event_no = b.event_no

)

select
    repair_no,
    line_id,
    component,
    position,
    ends_unit,
    case when ends_unit is not null then cause end as cause,
    starts_unit,
    fits_unit,
    case
        when ends_unit is not null or starts_unit is not null then null
        when not has_slot then 'component not on this car'
        when whole_car then 'position too often blank'
        when not tells_end and not tells_start then 'one with another order open at the same time'
        when is_fault and open_fault then 'same fault as before'
        when is_fault and answered then 'further failure of a unit after repair'
        when end_none is not null then end_none
        when start_none is not null then start_none
        when answered then 'unit is out of the life tables until renewed'
        else 'changed nothing'
    end as why_none
from roles
