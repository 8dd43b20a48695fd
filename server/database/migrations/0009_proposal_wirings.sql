-- The wirings of a proposal, alternatives to one another: a customer signs for one of them, with its sounds,
-- its parts and its terms. Of a proposal made before, only the name is known.

CREATE TABLE proposal_wirings (
    proposal_id    TEXT NOT NULL REFERENCES proposals (id),
    number         INTEGER NOT NULL,     -- counts from 1 within its proposal
    version_id     TEXT NOT NULL REFERENCES versions (id),
    version_sha256 TEXT NOT NULL,        -- of the version's text when it was offered
    name           TEXT NOT NULL,        -- as the customer reads it
    price          TEXT NOT NULL,        -- in words; may be empty
    when_ready     TEXT NOT NULL,        -- in words; may be empty
    bought         TEXT NOT NULL,        -- JSON list: count, text, names
    kept           TEXT NOT NULL,        -- JSON list of the same: what the instrument has already
    soldered       TEXT NOT NULL,        -- JSON list: parts, points, ground
    PRIMARY KEY (proposal_id, number),
    UNIQUE (proposal_id, version_id)
) STRICT;

INSERT INTO proposal_wirings
SELECT proposal_id,
       row_number() OVER (PARTITION BY proposal_id ORDER BY min(proposal_items.number)),
       version_id, min(version_sha256),
       CASE count(*) OVER (PARTITION BY proposal_id) WHEN 1 THEN title ELSE 'Wiring '
       || row_number() OVER (PARTITION BY proposal_id ORDER BY min(proposal_items.number)) END,
       '', '', '[]', '[]', '[]'
FROM proposal_items JOIN proposals ON proposals.id = proposal_id
GROUP BY proposal_id, version_id, title;

CREATE TRIGGER proposal_wirings_stay BEFORE UPDATE ON proposal_wirings
BEGIN SELECT RAISE(ABORT, 'what was offered does not change'); END;
CREATE TRIGGER proposal_wirings_are_kept BEFORE DELETE ON proposal_wirings
BEGIN SELECT RAISE(ABORT, 'what was offered is never deleted'); END;

-- Of a sign-off for a wiring; NULL where one sound was signed for. `number` is then the first of its sounds.
ALTER TABLE signoffs ADD COLUMN wiring INTEGER;
