-- Strings plucked in several positions of a guitar, and how sensitive its coils are by them. What is thrown away
-- or replaced stays for a while, so that it can be brought back.

CREATE TABLE pluck_recordings (
    id            TEXT PRIMARY KEY,
    wiring_id     TEXT NOT NULL REFERENCES wirings (id),
    setting       TEXT NOT NULL,     -- as a table of readings names it
    string        INTEGER NOT NULL,  -- 1 is the highest; 0: all were strummed
    name          TEXT NOT NULL,     -- of the file that was brought
    came          TEXT NOT NULL,
    seconds       REAL NOT NULL,
    strums        INTEGER NOT NULL,
    peak          REAL NOT NULL,     -- of the file; the kept sound's is 0.9
    loudness_lufs REAL,              -- of the kept sound; NULL for silence
    sound         BLOB NOT NULL,     -- FLAC, one channel
    removed       TEXT               -- when; NULL while it counts
) STRICT;

CREATE UNIQUE INDEX pluck_recordings_once ON pluck_recordings (wiring_id, setting, string) WHERE removed IS NULL;

CREATE TABLE sensitivities (
    wiring_id TEXT PRIMARY KEY REFERENCES wirings (id),
    fields    TEXT NOT NULL,         -- JSON: what was typed and chosen
    result    TEXT,                  -- JSON; NULL after any change
    changed   TEXT NOT NULL
) STRICT;
