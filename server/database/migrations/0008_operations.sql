-- What customer and workshop say to a proposal: one operation each, in the order they came. None changes
-- afterwards; which sounds are favourites follows from them.

CREATE TABLE operations (
    proposal_id TEXT NOT NULL REFERENCES proposals (id),
    place       INTEGER NOT NULL,        -- counts from 1 within its proposal, as they came
    id          TEXT NOT NULL,           -- made up by the page: the same operation again changes nothing
    device      TEXT NOT NULL,           -- made up by the customer's browser; '' for the workshop
    kind        TEXT NOT NULL
                CHECK (kind IN ('favourite', 'unfavourite', 'note', 'wish', 'unwish', 'reply')),
    number      INTEGER,                 -- of the item; NULL for the whole
    text        TEXT NOT NULL DEFAULT '',
    knobs       TEXT NOT NULL DEFAULT '{}',   -- JSON, of a wish
    about       TEXT,                    -- id of what is answered or taken back
    seen        INTEGER NOT NULL DEFAULT 0,   -- newest place that the page knew
    written     TEXT NOT NULL,           -- by the clock of who says it
    received    TEXT NOT NULL,           -- by the server's
    PRIMARY KEY (proposal_id, place),
    UNIQUE (proposal_id, id),
    FOREIGN KEY (proposal_id, number) REFERENCES proposal_items (proposal_id, number),
    FOREIGN KEY (proposal_id, about) REFERENCES operations (proposal_id, id)
) STRICT;

INSERT INTO operations (proposal_id, place, id, device, kind, number, text, written, received)
SELECT proposal_id, row_number() OVER (PARTITION BY proposal_id ORDER BY created, kind, line),
       kind || '-' || line, 'before', kind, number, text, created, created
FROM (
    SELECT proposal_id, created, 'note' AS kind, id AS line, number, text FROM comments
    UNION ALL
    SELECT proposal_id, proposals.created, 'favourite', number, number, ''
    FROM favourites JOIN proposals ON proposals.id = proposal_id
);

DROP TABLE comments;
DROP TABLE favourites;

ALTER TABLE proposals ADD COLUMN looked INTEGER NOT NULL DEFAULT 0;  -- place up to which the workshop has seen

CREATE TRIGGER operations_stay BEFORE UPDATE ON operations
BEGIN SELECT RAISE(ABORT, 'what was said does not change'); END;
CREATE TRIGGER operations_are_kept BEFORE DELETE ON operations
BEGIN SELECT RAISE(ABORT, 'what was said is never deleted'); END;
