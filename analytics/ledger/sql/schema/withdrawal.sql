-- One row per : withdrawn order, or line where line_no is filled
-- Why         : hides what was loaded up to that load; another version loaded later counts again

create table withdrawal (
    feed_source varchar not null,
    record_id varchar not null,
    line_no bigint,
    reason varchar not null,
    withdrawn_at timestamp not null,
    load_id bigint not null
)
