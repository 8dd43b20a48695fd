-- Built instruments, the workshop's record. Each is kept by its serial number with what it was judged against;
-- every state of it is an entry that never changes, so that nothing is lost. What is no longer wanted is archived.

CREATE TABLE built (
    id         TEXT PRIMARY KEY,
    wiring_id  TEXT NOT NULL REFERENCES wirings (id),
    serial_key TEXT NOT NULL UNIQUE,   -- the present serial number without regard to case and spaces
    created    TEXT NOT NULL,
    archived   TEXT                    -- when; NULL while it is in use
) STRICT;

CREATE TABLE built_entries (
    built_id   TEXT NOT NULL REFERENCES built (id),
    number     INTEGER NOT NULL,       -- counts from 1
    serial     TEXT NOT NULL,          -- as typed
    version_id TEXT NOT NULL REFERENCES versions (id),
    signed     TEXT NOT NULL,          -- date of the version's sign-off then, '' for none
    day        TEXT NOT NULL,          -- of the readings, ISO 8601
    notes      TEXT NOT NULL,
    readings   TEXT NOT NULL,          -- JSON: each with its value, band and side, as judged then
    verdict    TEXT NOT NULL,          -- JSON: text, read, planned, outside
    saved      TEXT NOT NULL,
    PRIMARY KEY (built_id, number)
) STRICT;

CREATE TRIGGER built_entries_stay BEFORE UPDATE ON built_entries
BEGIN SELECT RAISE(ABORT, 'an entry of a built instrument does not change'); END;
CREATE TRIGGER built_entries_are_kept BEFORE DELETE ON built_entries
BEGIN SELECT RAISE(ABORT, 'an entry of a built instrument is never deleted'); END;
CREATE TRIGGER built_are_kept BEFORE DELETE ON built
BEGIN SELECT RAISE(ABORT, 'a built instrument is never deleted: archive it'); END;
