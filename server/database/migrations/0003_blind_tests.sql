-- Blind tests: two sounds, and in each trial X, which is one of them. X is drawn when its trial opens and
-- told after the last answer. What was drawn and what was answered never changes.

CREATE TABLE blind_tests (
    id            TEXT PRIMARY KEY,
    commission_id TEXT NOT NULL REFERENCES commissions (id),
    take_id       TEXT NOT NULL,
    take_name     TEXT NOT NULL,
    from_s        REAL NOT NULL,         -- stretch of the take
    to_s          REAL NOT NULL,
    trials        INTEGER NOT NULL,
    sounds        TEXT NOT NULL,         -- JSON list of two: version, edits, position, knobs, switches
    state         TEXT NOT NULL CHECK (state IN ('making', 'open', 'done', 'given up', 'failed')),
    problem       TEXT NOT NULL DEFAULT '',
    created       TEXT NOT NULL,
    ended         TEXT
) STRICT;

CREATE INDEX blind_tests_by_commission ON blind_tests (commission_id);

CREATE TABLE blind_trials (
    test_id  TEXT NOT NULL REFERENCES blind_tests (id),
    number   INTEGER NOT NULL,           -- counts from 1
    x        INTEGER NOT NULL CHECK (x IN (0, 1)),
    said     INTEGER CHECK (said IN (0, 1)),
    answered TEXT,                       -- when
    clips    TEXT NOT NULL DEFAULT '{}', -- JSON: names of its files while it is the present trial
    PRIMARY KEY (test_id, number)
) STRICT;

CREATE TRIGGER blind_tests_stay BEFORE UPDATE OF id, commission_id, take_id, from_s, to_s, trials, sounds, created
ON blind_tests BEGIN SELECT RAISE(ABORT, 'a blind test does not change'); END;
CREATE TRIGGER ended_blind_tests_stay BEFORE UPDATE ON blind_tests WHEN OLD.ended IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'a blind test that is over does not change'); END;
CREATE TRIGGER blind_tests_are_kept BEFORE DELETE ON blind_tests
BEGIN SELECT RAISE(ABORT, 'a blind test is never deleted'); END;
CREATE TRIGGER blind_draws_stay BEFORE UPDATE OF test_id, number, x ON blind_trials
BEGIN SELECT RAISE(ABORT, 'what was drawn does not change'); END;
CREATE TRIGGER blind_answers_stay BEFORE UPDATE OF said, answered ON blind_trials WHEN OLD.said IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'an answer does not change'); END;
CREATE TRIGGER blind_trials_are_kept BEFORE DELETE ON blind_trials
BEGIN SELECT RAISE(ABORT, 'a trial is never deleted'); END;
