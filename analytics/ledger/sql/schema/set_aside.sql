-- One row per : value that was set aside while its row was taken
-- Why         : nothing is dropped silently

create table set_aside (
    load_id bigint not null,
    table_name varchar not null,
    feed_source varchar not null,
    file varchar not null,
    row_no bigint not null,
    column_name varchar not null,
    value varchar,
    says varchar not null
)
