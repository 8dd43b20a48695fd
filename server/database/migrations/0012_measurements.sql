-- What is being measured at the bench: kept until it is thrown away.

CREATE TABLE rig_recordings (
    step     TEXT PRIMARY KEY CHECK (step IN ('open', 'short', 'known')),
    name     TEXT NOT NULL,    -- of the file that was brought
    came     TEXT NOT NULL,
    transfer TEXT NOT NULL     -- JSON: ratio of its two channels over frequency
) STRICT;

CREATE TABLE measurements (
    wiring_id TEXT NOT NULL REFERENCES wirings (id),
    part      TEXT NOT NULL,
    fields    TEXT NOT NULL,    -- JSON: what was typed
    recording TEXT,             -- JSON: name, when it came, transfer of the coil's recording
    table_of  TEXT,             -- JSON: name, when it came, text of a table file
    result    TEXT,             -- JSON: the fit of what stands here; NULL after any change
    changed   TEXT NOT NULL,
    PRIMARY KEY (wiring_id, part)
) STRICT;
