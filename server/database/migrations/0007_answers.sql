-- What was sent to a customer in a file, and the answers that came back. Neither changes afterwards.

CREATE TABLE manifests (
    sha256      TEXT PRIMARY KEY,        -- of the manifest in UTF-8
    proposal_id TEXT NOT NULL REFERENCES proposals (id),
    created     TEXT NOT NULL,
    secret      BLOB NOT NULL CHECK (length(secret) = 32),  -- seals the answers to it
    manifest    TEXT NOT NULL            -- canonical JSON
) STRICT;

CREATE INDEX manifests_by_proposal ON manifests (proposal_id);

CREATE TABLE answers (
    sha256      TEXT PRIMARY KEY,        -- of the answer in UTF-8: each is taken in once
    sent        TEXT NOT NULL REFERENCES manifests (sha256),
    proposal_id TEXT NOT NULL REFERENCES proposals (id),
    received    TEXT NOT NULL,           -- the server's clock; the customer's is in the answer
    answer      TEXT NOT NULL,           -- canonical JSON
    sealed      TEXT NOT NULL            -- the text as it came, without white space
) STRICT;

CREATE INDEX answers_by_proposal ON answers (proposal_id);

CREATE TRIGGER manifests_stay BEFORE UPDATE ON manifests
BEGIN SELECT RAISE(ABORT, 'what was sent does not change'); END;
CREATE TRIGGER manifests_are_kept BEFORE DELETE ON manifests
BEGIN SELECT RAISE(ABORT, 'what was sent is never deleted'); END;
CREATE TRIGGER answers_stay BEFORE UPDATE ON answers
BEGIN SELECT RAISE(ABORT, 'an answer does not change'); END;
CREATE TRIGGER answers_are_kept BEFORE DELETE ON answers
BEGIN SELECT RAISE(ABORT, 'an answer is never deleted'); END;
