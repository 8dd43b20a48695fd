-- Listings made from the bench: what was asked for, which does not change, and how far each has come.
-- The clips lie in a folder per listing, with a record of their own of what is finished.

CREATE TABLE listing_jobs (
    id       TEXT PRIMARY KEY,
    title    TEXT NOT NULL,
    options  TEXT NOT NULL,              -- JSON: takes, settings, formats, loudness, rate, names
    clips    INTEGER NOT NULL,           -- as planned; each in every format
    seconds  REAL NOT NULL,              -- of all clips together, as planned
    created  TEXT NOT NULL,
    state    TEXT NOT NULL DEFAULT 'queued'
             CHECK (state IN ('queued', 'running', 'done', 'failed', 'cancelled', 'interrupted')),
    wish     TEXT NOT NULL DEFAULT '' CHECK (wish IN ('', 'cancel')),
    tries    INTEGER NOT NULL DEFAULT 0, -- ends of its worker since anything was last finished
    queued   TEXT NOT NULL,              -- when it was last put into the queue
    started  TEXT,                       -- when it was last begun
    ended    TEXT,
    archived TEXT,                       -- when; NULL while it is in the list
    progress TEXT NOT NULL DEFAULT '{}', -- JSON: share, times real time, seconds remaining
    report   TEXT NOT NULL DEFAULT '{}', -- JSON: summary, problems
    changes  INTEGER NOT NULL DEFAULT 1  -- counts up with whatever changes
) STRICT;

CREATE TABLE listing_wirings (
    job_id         TEXT NOT NULL REFERENCES listing_jobs (id),
    number         INTEGER NOT NULL,     -- counts from 1 within its listing
    version_id     TEXT NOT NULL REFERENCES versions (id),
    version_sha256 TEXT NOT NULL,        -- of the version's text when it was asked for
    name           TEXT NOT NULL,        -- as the page shows it
    folder         TEXT NOT NULL,        -- of its files, within the listing's
    positions      TEXT NOT NULL,        -- JSON list; empty for all
    state          TEXT NOT NULL DEFAULT 'waiting' CHECK (state IN ('waiting', 'running', 'done', 'failed')),
    files          INTEGER NOT NULL DEFAULT 0, -- there are to be
    files_done     INTEGER NOT NULL DEFAULT 0,
    reused         INTEGER NOT NULL DEFAULT 0, -- of these, there already
    problems       TEXT NOT NULL DEFAULT '[]', -- JSON list
    warnings       TEXT NOT NULL DEFAULT '[]', -- JSON list
    PRIMARY KEY (job_id, number),
    UNIQUE (job_id, folder)
) STRICT;

CREATE TABLE listing_takes (
    job_id  TEXT NOT NULL REFERENCES listing_jobs (id),
    number  INTEGER NOT NULL,
    take_id TEXT NOT NULL,
    name    TEXT NOT NULL,               -- as the page shows it
    file    TEXT NOT NULL,               -- what it is called in file names
    PRIMARY KEY (job_id, number),
    UNIQUE (job_id, take_id),
    UNIQUE (job_id, file)
) STRICT;

CREATE TRIGGER listing_jobs_stay BEFORE UPDATE OF id, title, options, clips, seconds, created ON listing_jobs
BEGIN SELECT RAISE(ABORT, 'what a listing was asked to hold does not change'); END;
CREATE TRIGGER listing_jobs_are_kept BEFORE DELETE ON listing_jobs
BEGIN SELECT RAISE(ABORT, 'a listing is never deleted: archive it'); END;
CREATE TRIGGER listing_wirings_stay
BEFORE UPDATE OF job_id, number, version_id, version_sha256, name, folder, positions ON listing_wirings
BEGIN SELECT RAISE(ABORT, 'what a listing was asked to hold does not change'); END;
CREATE TRIGGER listing_wirings_are_kept BEFORE DELETE ON listing_wirings
BEGIN SELECT RAISE(ABORT, 'what a listing was asked to hold is never deleted'); END;
CREATE TRIGGER listing_takes_stay BEFORE UPDATE ON listing_takes
BEGIN SELECT RAISE(ABORT, 'what a listing was asked to hold does not change'); END;
CREATE TRIGGER listing_takes_are_kept BEFORE DELETE ON listing_takes
BEGIN SELECT RAISE(ABORT, 'what a listing was asked to hold is never deleted'); END;
