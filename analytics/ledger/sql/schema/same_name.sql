-- One row per : thing a person said about a name: it means another, or no longer does
-- Why         : only the last one said about a name counts; nothing is ever changed here

create table same_name (
    step bigint not null,
    kind varchar not null,
    old_name varchar not null,
    new_name varchar,
    said_at timestamp not null
)
