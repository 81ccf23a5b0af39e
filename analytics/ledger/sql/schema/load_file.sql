-- One row per : load x table x file of the feed
-- Why         : rows_read = accepted + unchanged + revised + quarantined, for each file; repeated is part of unchanged

create table load_file (
    load_id bigint not null,
    table_name varchar not null,
    file varchar not null,
    rows_read bigint not null,
    accepted bigint not null,
    unchanged bigint not null,
    repeated bigint not null,
    revised bigint not null,
    quarantined bigint not null,
    set_aside bigint not null
)
