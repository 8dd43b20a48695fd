-- In which ways the sounds of a proposal may be heard, the way heard first at place 0, and the clips of each way. A
-- proposal made before is heard direct alone.

CREATE TABLE proposal_ways (
    proposal_id TEXT NOT NULL REFERENCES proposals (id),
    place       INTEGER NOT NULL,
    way         TEXT NOT NULL CHECK (way IN ('direct', 'clean', 'edge', 'driven')),
    PRIMARY KEY (proposal_id, way),
    UNIQUE (proposal_id, place)
) STRICT;

INSERT INTO proposal_ways SELECT id, 0, 'direct' FROM proposals;

CREATE TRIGGER proposal_ways_stay BEFORE UPDATE ON proposal_ways
BEGIN SELECT RAISE(ABORT, 'what was offered does not change'); END;
CREATE TRIGGER proposal_ways_are_kept BEFORE DELETE ON proposal_ways
BEGIN SELECT RAISE(ABORT, 'what was offered is never deleted'); END;

CREATE TABLE heard_clips (
    proposal_id   TEXT NOT NULL,
    number        INTEGER NOT NULL,
    take_id       TEXT NOT NULL,
    way           TEXT NOT NULL,
    flac_sha256   TEXT NOT NULL,         -- of the files under clips/, which are named by it
    mp3_sha256    TEXT NOT NULL,
    frames        INTEGER NOT NULL,
    rate_hz       INTEGER NOT NULL,
    loudness_lufs REAL,                  -- as the files are; NULL for silence
    wired_gain_db REAL NOT NULL,         -- on top: the true differences in its way, the loudest of the set 0
    record        TEXT NOT NULL,         -- JSON: everything the render says of the clip
    PRIMARY KEY (proposal_id, number, take_id, way),
    FOREIGN KEY (proposal_id, number) REFERENCES proposal_items (proposal_id, number),
    FOREIGN KEY (proposal_id, take_id) REFERENCES proposal_takes (proposal_id, take_id),
    FOREIGN KEY (proposal_id, way) REFERENCES proposal_ways (proposal_id, way)
) STRICT;

INSERT INTO heard_clips
SELECT proposal_id, number, take_id, 'direct', flac_sha256, mp3_sha256, frames, rate_hz, loudness_lufs,
       wired_gain_db, record
FROM proposal_clips;

DROP TABLE proposal_clips;
ALTER TABLE heard_clips RENAME TO proposal_clips;

CREATE TRIGGER clips_stay BEFORE UPDATE ON proposal_clips
BEGIN SELECT RAISE(ABORT, 'a clip that was offered does not change'); END;
CREATE TRIGGER clips_are_kept BEFORE DELETE ON proposal_clips
BEGIN SELECT RAISE(ABORT, 'a clip that was offered is never deleted'); END;
