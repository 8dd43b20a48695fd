-- Sounds that answer wishes: a sound as first offered, with its knobs elsewhere. Each is rendered whole and only
-- then offered, as the next sound of its proposal.

CREATE TABLE proposal_variants (
    proposal_id TEXT NOT NULL REFERENCES proposals (id),
    line        INTEGER NOT NULL,        -- counts from 1 within its proposal, as they were asked for
    of_number   INTEGER NOT NULL,        -- of the first sound whose knobs are turned
    knobs       TEXT NOT NULL,           -- JSON, every knob
    asked       TEXT NOT NULL,           -- when
    state       TEXT NOT NULL DEFAULT 'queued' CHECK (state IN ('queued', 'running', 'done', 'failed')),
    share       REAL NOT NULL DEFAULT 0,
    tries       INTEGER NOT NULL DEFAULT 0,
    error       TEXT NOT NULL DEFAULT '',
    number      INTEGER,                 -- of the sound that it became
    offered     TEXT,                    -- when
    PRIMARY KEY (proposal_id, line),
    UNIQUE (proposal_id, number),
    FOREIGN KEY (proposal_id, of_number) REFERENCES proposal_items (proposal_id, number),
    FOREIGN KEY (proposal_id, number) REFERENCES proposal_items (proposal_id, number)
) STRICT;

CREATE TRIGGER variants_stay BEFORE UPDATE OF proposal_id, line, of_number, knobs, asked ON proposal_variants
BEGIN SELECT RAISE(ABORT, 'a sound that was asked for does not change'); END;
CREATE TRIGGER offered_variants_stay BEFORE UPDATE ON proposal_variants WHEN OLD.number IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'what was offered does not change'); END;
CREATE TRIGGER variants_are_kept BEFORE DELETE ON proposal_variants
BEGIN SELECT RAISE(ABORT, 'a sound that was asked for is never deleted'); END;
