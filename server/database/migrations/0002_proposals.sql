-- Proposals: what was put before a customer, their clips, and what the customer said to it.
-- What was offered, said and signed does not change afterwards; triggers see to that.

CREATE TABLE proposals (
    id            TEXT PRIMARY KEY,
    commission_id TEXT NOT NULL REFERENCES commissions (id),
    token_sha256  TEXT NOT NULL UNIQUE,  -- of the link's token, which itself is kept nowhere
    title         TEXT NOT NULL,
    created       TEXT NOT NULL,
    expires       TEXT NOT NULL,
    revoked       TEXT,                  -- when
    seen          TEXT,                  -- when the link was first opened
    changes       INTEGER NOT NULL DEFAULT 0  -- counts what the bench has not been told yet
) STRICT;

CREATE INDEX proposals_by_commission ON proposals (commission_id);

CREATE TABLE proposal_items (
    proposal_id    TEXT NOT NULL REFERENCES proposals (id),
    number         INTEGER NOT NULL,     -- counts from 1 within its proposal
    version_id     TEXT NOT NULL REFERENCES versions (id),
    version_sha256 TEXT NOT NULL,        -- of the version's text when it was offered
    position       TEXT NOT NULL,
    knobs          TEXT NOT NULL,        -- JSON, every knob
    switches       TEXT NOT NULL,        -- JSON, every switch but the selector
    label          TEXT NOT NULL,
    words          TEXT NOT NULL,        -- JSON list
    stands         TEXT NOT NULL,        -- JSON list: knobs and switches not at rest, in words
    brightness     REAL NOT NULL,        -- 0 to 1, place between round and bright
    PRIMARY KEY (proposal_id, number)
) STRICT;

CREATE TABLE proposal_takes (
    proposal_id TEXT NOT NULL REFERENCES proposals (id),
    place       INTEGER NOT NULL,
    take_id     TEXT NOT NULL,
    name        TEXT NOT NULL,
    seconds     REAL NOT NULL,
    places_said TEXT NOT NULL,           -- whether the coils' places are in the sound
    PRIMARY KEY (proposal_id, take_id)
) STRICT;

CREATE TABLE clip_jobs (                 -- one per proposal and take, worked off in order
    proposal_id TEXT NOT NULL,
    take_id     TEXT NOT NULL,
    state       TEXT NOT NULL DEFAULT 'queued' CHECK (state IN ('queued', 'running', 'done', 'failed')),
    share       REAL NOT NULL DEFAULT 0,
    tries       INTEGER NOT NULL DEFAULT 0,
    error       TEXT NOT NULL DEFAULT '',
    PRIMARY KEY (proposal_id, take_id),
    FOREIGN KEY (proposal_id, take_id) REFERENCES proposal_takes (proposal_id, take_id)
) STRICT;

CREATE TABLE proposal_clips (
    proposal_id   TEXT NOT NULL,
    number        INTEGER NOT NULL,
    take_id       TEXT NOT NULL,
    flac_sha256   TEXT NOT NULL,         -- of the files under clips/, which are named by it
    mp3_sha256    TEXT NOT NULL,
    frames        INTEGER NOT NULL,
    rate_hz       INTEGER NOT NULL,
    loudness_lufs REAL,                  -- as the files are; NULL for silence
    wired_gain_db REAL NOT NULL,         -- on top: the true differences, the loudest of the set 0
    record        TEXT NOT NULL,         -- JSON: everything the render says of the clip
    PRIMARY KEY (proposal_id, number, take_id),
    FOREIGN KEY (proposal_id, number) REFERENCES proposal_items (proposal_id, number),
    FOREIGN KEY (proposal_id, take_id) REFERENCES proposal_takes (proposal_id, take_id)
) STRICT;

CREATE TABLE favourites (
    proposal_id TEXT NOT NULL,
    number      INTEGER NOT NULL,
    PRIMARY KEY (proposal_id, number),
    FOREIGN KEY (proposal_id, number) REFERENCES proposal_items (proposal_id, number)
) STRICT;

CREATE TABLE comments (
    id          INTEGER PRIMARY KEY,
    proposal_id TEXT NOT NULL REFERENCES proposals (id),
    number      INTEGER,                 -- of the item; NULL for the whole
    text        TEXT NOT NULL,
    created     TEXT NOT NULL,
    FOREIGN KEY (proposal_id, number) REFERENCES proposal_items (proposal_id, number)
) STRICT;

CREATE INDEX comments_by_proposal ON comments (proposal_id);

CREATE TABLE signoffs (
    place          INTEGER PRIMARY KEY,  -- in the order they were signed
    proposal_id    TEXT NOT NULL UNIQUE REFERENCES proposals (id),
    number         INTEGER NOT NULL,
    version_id     TEXT NOT NULL,
    version_sha256 TEXT NOT NULL,
    name           TEXT NOT NULL,        -- as typed
    date           TEXT NOT NULL,        -- as typed, ISO 8601
    signed         TEXT NOT NULL,        -- the server's clock
    previous       TEXT NOT NULL,        -- sha256 of the sign-off before, '' for the first
    record         TEXT NOT NULL,        -- canonical JSON of everything above and the clips
    sha256         TEXT NOT NULL,        -- of the record in UTF-8
    FOREIGN KEY (proposal_id, number) REFERENCES proposal_items (proposal_id, number)
) STRICT;

CREATE TRIGGER signoffs_stay BEFORE UPDATE ON signoffs
BEGIN SELECT RAISE(ABORT, 'a sign-off does not change'); END;
CREATE TRIGGER signoffs_are_kept BEFORE DELETE ON signoffs
BEGIN SELECT RAISE(ABORT, 'a sign-off is never deleted'); END;
CREATE TRIGGER items_stay BEFORE UPDATE ON proposal_items
BEGIN SELECT RAISE(ABORT, 'what was offered does not change'); END;
CREATE TRIGGER items_are_kept BEFORE DELETE ON proposal_items
BEGIN SELECT RAISE(ABORT, 'what was offered is never deleted'); END;
CREATE TRIGGER proposal_takes_stay BEFORE UPDATE ON proposal_takes
BEGIN SELECT RAISE(ABORT, 'what was offered does not change'); END;
CREATE TRIGGER proposal_takes_are_kept BEFORE DELETE ON proposal_takes
BEGIN SELECT RAISE(ABORT, 'what was offered is never deleted'); END;
CREATE TRIGGER clips_stay BEFORE UPDATE ON proposal_clips
BEGIN SELECT RAISE(ABORT, 'a clip that was offered does not change'); END;
CREATE TRIGGER clips_are_kept BEFORE DELETE ON proposal_clips
BEGIN SELECT RAISE(ABORT, 'a clip that was offered is never deleted'); END;
CREATE TRIGGER comments_stay BEFORE UPDATE ON comments
BEGIN SELECT RAISE(ABORT, 'a comment does not change'); END;
CREATE TRIGGER comments_are_kept BEFORE DELETE ON comments
BEGIN SELECT RAISE(ABORT, 'a comment is never deleted'); END;
CREATE TRIGGER proposals_are_kept BEFORE DELETE ON proposals
BEGIN SELECT RAISE(ABORT, 'a proposal is never deleted: revoke it'); END;
CREATE TRIGGER proposals_stay BEFORE UPDATE OF id, commission_id, title, created ON proposals
BEGIN SELECT RAISE(ABORT, 'what was offered does not change'); END;
