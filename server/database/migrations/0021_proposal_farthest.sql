-- The farthest two of some guitars built of an offered wiring, to be heard beside its sounds. They show what tolerances
-- do; nobody signs for one. Each wiring's are rendered whole and only then shown.

CREATE TABLE proposal_farthest (
    proposal_id TEXT NOT NULL,
    wiring      INTEGER NOT NULL,        -- number of the wiring within its proposal
    built       INTEGER NOT NULL,        -- guitars, of which two are farthest apart
    cable       REAL NOT NULL,           -- spread of the players' cables, a share; 0 where all have one
    state       TEXT NOT NULL DEFAULT 'queued' CHECK (state IN ('queued', 'running', 'done', 'failed')),
    share       REAL NOT NULL DEFAULT 0,
    tries       INTEGER NOT NULL DEFAULT 0,
    error       TEXT NOT NULL DEFAULT '',
    found       TEXT,                    -- JSON once they are: how far apart by sound, the cable's share, both wirings
    PRIMARY KEY (proposal_id, wiring),
    FOREIGN KEY (proposal_id, wiring) REFERENCES proposal_wirings (proposal_id, number)
) STRICT;

CREATE TRIGGER farthest_stay BEFORE UPDATE OF proposal_id, wiring, built, cable ON proposal_farthest
BEGIN SELECT RAISE(ABORT, 'what was offered does not change'); END;
CREATE TRIGGER found_farthest_stay BEFORE UPDATE ON proposal_farthest WHEN OLD.found IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'what was offered does not change'); END;
CREATE TRIGGER farthest_are_kept BEFORE DELETE ON proposal_farthest
BEGIN SELECT RAISE(ABORT, 'what was offered is never deleted'); END;

CREATE TABLE proposal_farthest_clips (
    proposal_id   TEXT NOT NULL,
    number        INTEGER NOT NULL,      -- of the sound
    take_id       TEXT NOT NULL,
    way           TEXT NOT NULL,
    which         INTEGER NOT NULL CHECK (which IN (0, 1)),
    flac_sha256   TEXT NOT NULL,         -- of the files under clips/, which are named by it
    mp3_sha256    TEXT NOT NULL,
    frames        INTEGER NOT NULL,
    rate_hz       INTEGER NOT NULL,
    loudness_lufs REAL,                  -- as the files are; NULL for silence
    wired_gain_db REAL NOT NULL,         -- on top: the true differences, measured from where the sounds' own are
    record        TEXT NOT NULL,         -- JSON: everything the render says of the clip
    PRIMARY KEY (proposal_id, number, take_id, way, which),
    FOREIGN KEY (proposal_id, number, take_id, way) REFERENCES proposal_clips (proposal_id, number, take_id, way)
) STRICT;

CREATE TRIGGER farthest_clips_stay BEFORE UPDATE ON proposal_farthest_clips
BEGIN SELECT RAISE(ABORT, 'a clip that was offered does not change'); END;
CREATE TRIGGER farthest_clips_are_kept BEFORE DELETE ON proposal_farthest_clips
BEGIN SELECT RAISE(ABORT, 'a clip that was offered is never deleted'); END;
