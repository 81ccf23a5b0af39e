-- One row per : load that changed something or brought a feed not kept before
-- Why         : what a load did can be counted again (doctor), undone and repeated (rebuild)

create table load (
    load_id bigint not null,
    loaded_at timestamp not null,
    loaded_on date not null,
    source varchar not null,
    feed_hash varchar not null,
    mapping_hash varchar not null,
    files varchar not null,
    complete boolean not null,
    to_quarantine bigint not null,
    rows_read bigint not null,
    accepted bigint not null,
    unchanged bigint not null,
    repeated bigint not null,
    revised bigint not null,
    quarantined bigint not null,
    set_aside bigint not null
)
