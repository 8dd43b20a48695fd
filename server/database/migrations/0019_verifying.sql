-- Recordings of the finished guitar beside its sign-off, and the verdict on them. The sign-off itself never changes.

CREATE TABLE guitar_recordings (
    proposal_id   TEXT NOT NULL REFERENCES proposals (id),
    setting       TEXT NOT NULL,   -- as a table of readings names it
    name          TEXT NOT NULL,   -- of the file that was brought
    came          TEXT NOT NULL,
    seconds       REAL NOT NULL,
    strums        INTEGER NOT NULL,
    peak          REAL NOT NULL,   -- of the file; the kept sound's is 0.9
    loudness_lufs REAL,            -- of the kept sound; NULL for silence
    sound         BLOB NOT NULL,   -- FLAC, one channel
    PRIMARY KEY (proposal_id, setting)
) STRICT;

CREATE TABLE guitar_verdicts (
    proposal_id TEXT PRIMARY KEY REFERENCES proposals (id),
    fields      TEXT NOT NULL,     -- JSON: chord, cable and input as typed
    verdict     TEXT,              -- JSON; NULL after any change
    changed     TEXT NOT NULL
) STRICT;
