-- Coils that the workshop has measured, by name. One that is removed can be brought back.

CREATE TABLE own_coils (
    id      TEXT PRIMARY KEY,
    name    TEXT NOT NULL,
    day     TEXT NOT NULL,    -- of the reading, ISO 8601
    method  TEXT NOT NULL,
    fields  TEXT NOT NULL,    -- JSON: the part's fields as a wiring file has them
    record  TEXT NOT NULL,    -- JSON: values in plain units, intervals, order, notes
    curve   TEXT,             -- JSON: frequencies, real and imaginary ohms; NULL if no curve was read
    created TEXT NOT NULL,
    removed TEXT
) STRICT;

CREATE UNIQUE INDEX own_coils_name ON own_coils (name) WHERE removed IS NULL;
