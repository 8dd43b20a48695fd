-- The known resistor belongs to the rig, as its recording does: one for every guitar. How often a guitar's fields
-- were emptied tells a file that is still being measured that its guitar is gone.

CREATE TABLE jack_known (
    only_one INTEGER PRIMARY KEY CHECK (only_one = 1),
    typed    TEXT NOT NULL
) STRICT;

INSERT INTO jack_known (only_one, typed)
SELECT 1, json_extract(fields, '$.known') FROM jack_readings
WHERE json_extract(fields, '$.known') != '' ORDER BY changed DESC LIMIT 1;

ALTER TABLE jack_readings ADD COLUMN emptied INTEGER NOT NULL DEFAULT 0;
