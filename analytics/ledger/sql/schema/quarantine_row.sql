-- One row per : quarantined row x column that cannot be trusted
-- Why         : row holds what was read, after the mapping and before any judgement, so that it can be mended;
--               settings_load is the load whose settings read it; contested = another row holds its key

create table quarantine_row (
    quarantine_id bigint not null,
    load_id bigint not null,
    settings_load bigint not null,
    table_name varchar not null,
    feed_source varchar not null,
    row_key varchar not null,
    row_hash varchar not null,
    contested boolean not null,
    file varchar not null,
    row_no bigint not null,
    column_name varchar not null,
    value varchar,
    says varchar not null,
    vehicle_id varchar,
    day date,
    planned boolean not null,
    row_json varchar not null
)
