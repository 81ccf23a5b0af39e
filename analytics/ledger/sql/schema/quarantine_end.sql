-- One row per : quarantined row that is no longer open
-- Why         : load_id is the load that ended it, and opens it again when undone; by_hand = a person mended or withdrew
--               it, so that the same words of the source do not open it again

create table quarantine_end (
    quarantine_id bigint not null,
    status varchar not null,
    by_hand boolean not null,
    load_id bigint,
    reason varchar not null,
    ended_at timestamp not null
)
