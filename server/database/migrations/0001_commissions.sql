-- Commissions, their wirings and the versions of each; takes brought in; sessions of the bench.
-- Times are UTC, ISO 8601. Nothing is deleted: what is no longer wanted is archived.

CREATE TABLE commissions (
    id       TEXT PRIMARY KEY,
    title    TEXT NOT NULL,
    client   TEXT NOT NULL,
    created  TEXT NOT NULL,
    changed  TEXT NOT NULL,
    archived TEXT,                      -- when; NULL while it is in use
    state    TEXT NOT NULL DEFAULT '{}',-- what the page remembers, JSON
    origin   TEXT UNIQUE                -- the demo or the file or folder it came from
) STRICT;

CREATE TABLE wirings (
    id            TEXT PRIMARY KEY,
    commission_id TEXT NOT NULL REFERENCES commissions (id),
    place         INTEGER NOT NULL,     -- order within the commission
    name          TEXT NOT NULL,
    created       TEXT NOT NULL,
    file          TEXT,                 -- wiring file that saving writes too
    file_sha256   TEXT,                 -- of the file's bytes when last read or written
    UNIQUE (commission_id, place)
) STRICT;

CREATE INDEX wirings_by_file ON wirings (file) WHERE file IS NOT NULL;

CREATE TABLE versions (
    id        TEXT PRIMARY KEY,
    wiring_id TEXT NOT NULL REFERENCES wirings (id),
    number    INTEGER NOT NULL,
    text      TEXT NOT NULL,
    sha256    TEXT NOT NULL,            -- of the text in UTF-8
    note      TEXT NOT NULL,
    created   TEXT NOT NULL,
    UNIQUE (wiring_id, number)
) STRICT;

CREATE TRIGGER versions_stay BEFORE UPDATE ON versions
BEGIN SELECT RAISE(ABORT, 'a version of a wiring does not change'); END;
CREATE TRIGGER versions_are_kept BEFORE DELETE ON versions
BEGIN SELECT RAISE(ABORT, 'a version of a wiring is never deleted'); END;
CREATE TRIGGER wirings_are_kept BEFORE DELETE ON wirings
BEGIN SELECT RAISE(ABORT, 'a wiring is never deleted'); END;
CREATE TRIGGER commissions_are_kept BEFORE DELETE ON commissions
BEGIN SELECT RAISE(ABORT, 'a commission is never deleted: archive it'); END;

CREATE TABLE takes (
    id          TEXT PRIMARY KEY,
    name        TEXT NOT NULL,
    kind        TEXT NOT NULL,
    seconds     REAL NOT NULL,
    coil_places TEXT NOT NULL,
    warnings    TEXT NOT NULL,          -- JSON list
    sha256      TEXT NOT NULL,          -- of the sound file as it was sent
    bytes       INTEGER NOT NULL,
    created     TEXT NOT NULL
) STRICT;

CREATE TRIGGER takes_are_kept BEFORE DELETE ON takes
BEGIN SELECT RAISE(ABORT, 'a take is never deleted'); END;

CREATE TABLE sessions (
    digest   TEXT PRIMARY KEY,          -- SHA-256 of the cookie
    key_mark TEXT NOT NULL,             -- of the key it was opened with
    expires  TEXT NOT NULL,
    ended    TEXT
) STRICT;

CREATE TABLE secrets (
    name  TEXT PRIMARY KEY,
    value BLOB NOT NULL
) STRICT;
