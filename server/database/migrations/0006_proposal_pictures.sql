-- The picture of each sound that was offered: drawn once, so that what is signed does not change with the program.

CREATE TABLE proposal_pictures (
    proposal_id TEXT NOT NULL,
    number      INTEGER NOT NULL,
    sha256      TEXT NOT NULL,           -- of the file under clips/, which is named by it
    words       TEXT NOT NULL,           -- what the picture shows
    PRIMARY KEY (proposal_id, number),
    FOREIGN KEY (proposal_id, number) REFERENCES proposal_items (proposal_id, number)
) STRICT;

CREATE TRIGGER pictures_stay BEFORE UPDATE ON proposal_pictures
BEGIN SELECT RAISE(ABORT, 'a picture that was offered does not change'); END;
CREATE TRIGGER pictures_are_kept BEFORE DELETE ON proposal_pictures
BEGIN SELECT RAISE(ABORT, 'a picture that was offered is never deleted'); END;
