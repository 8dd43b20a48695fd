-- Who proposes: the workshop's name, contact and picture, as every proposal shows them.

CREATE TABLE workshop (
    one     INTEGER PRIMARY KEY CHECK (one = 1),
    name    TEXT NOT NULL DEFAULT '',
    contact TEXT NOT NULL DEFAULT '',    -- one line: how to reach it
    picture BLOB,                        -- JPEG, made here from what was brought
    sha256  TEXT NOT NULL DEFAULT ''     -- of the picture
) STRICT;

INSERT INTO workshop (one) VALUES (1);
