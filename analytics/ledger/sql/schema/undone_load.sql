-- One row per : load that was undone
-- Why         : nothing is deleted; the views leave these loads out

create table undone_load (
    load_id bigint not null,
    undone_at timestamp not null
)
