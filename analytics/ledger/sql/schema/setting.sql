-- One row per : load x named setting of its mapping
-- Why         : a row mended later is read with the settings it was first read with

create table setting (
    load_id bigint not null,
    name varchar not null,
    value varchar not null
)
