-- Readings of finished guitars that were thrown away, so that they can be brought back until a guitar after them is kept.

CREATE TABLE jack_thrown (
    wiring_id  TEXT NOT NULL REFERENCES wirings (id),
    place      INTEGER NOT NULL,     -- the highest comes back first
    fields     TEXT NOT NULL,        -- JSON: what was typed
    recordings TEXT NOT NULL,        -- JSON: name, time and content by setting
    PRIMARY KEY (wiring_id, place)
) STRICT;
