-- What is being read at a finished guitar's jack: kept until it is thrown away. The rig is calibrated at the plug
-- at the end of the cable, not at the clips that a coil takes.

CREATE TABLE jack_rig (
    step     TEXT PRIMARY KEY CHECK (step IN ('open', 'short', 'known')),
    name     TEXT NOT NULL,    -- of the file that was brought
    came     TEXT NOT NULL,
    transfer TEXT NOT NULL     -- JSON: ratio of its two channels over frequency
) STRICT;

CREATE TABLE jack_readings (
    wiring_id TEXT PRIMARY KEY REFERENCES wirings (id),
    fields    TEXT NOT NULL,   -- JSON: what was typed
    changed   TEXT NOT NULL
) STRICT;

CREATE TABLE jack_recordings (
    wiring_id TEXT NOT NULL REFERENCES wirings (id),
    setting   TEXT NOT NULL,   -- as a table of readings names it
    name      TEXT NOT NULL,
    came      TEXT NOT NULL,
    content   TEXT NOT NULL,   -- JSON: a transfer, or a curve from a table
    PRIMARY KEY (wiring_id, setting)
) STRICT;
