-- One row per : revision of a row of this feed table
-- Why         : the native columns, then where they came from; nothing here is ever changed

create table ${revision} (
    ${columns},
    inferred varchar,
    feed_source varchar not null,
    row_key varchar not null,
    revision bigint not null,
    load_id bigint not null,
    file varchar not null,
    row_no bigint not null,
    content_hash varchar not null
)
