-- Steps of build sheets that a builder has ticked off, under the wiring that is soldered.

CREATE TABLE sheet_ticks (
    wiring_id TEXT NOT NULL REFERENCES wirings (id),
    step      TEXT NOT NULL,             -- key of the step; it stays when other steps come or go
    text      TEXT NOT NULL,             -- what was done: when the sheet says another, the tick is void
    ticked    TEXT NOT NULL,             -- when
    PRIMARY KEY (wiring_id, step)
) STRICT;
