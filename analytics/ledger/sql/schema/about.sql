-- One row per : ledger
-- Why         : a program refuses a ledger whose tables it does not know

create table about (
    schema_version integer not null
)
