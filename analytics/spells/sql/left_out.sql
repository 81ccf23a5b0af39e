-- One row per : finding: what this stage left out, filled in or merged, by reason
-- Reads       : left_out_line, left_out_unit, left_out_car, left_out_car_day, left_out_visit
-- Parameters  : none
-- Returns     : kind VARCHAR
--             : count BIGINT
--             : out_of BIGINT, what it could have been
--             : example_record VARCHAR, one line that shows it
--             : says VARCHAR, what was done about it
-- Order       : kind

select * from left_out_line
union all
select * from left_out_unit
union all
select * from left_out_car
union all
select * from left_out_car_day
union all
select * from left_out_visit
order by kind
