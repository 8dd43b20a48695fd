-- How the two sounds of a blind test were heard: a way of the chain behind the guitar, or direct.

ALTER TABLE blind_tests ADD COLUMN way TEXT NOT NULL DEFAULT 'direct'
    CHECK (way IN ('direct', 'clean', 'edge', 'driven'));

CREATE TRIGGER blind_ways_stay BEFORE UPDATE OF way
ON blind_tests BEGIN SELECT RAISE(ABORT, 'a blind test does not change'); END;
