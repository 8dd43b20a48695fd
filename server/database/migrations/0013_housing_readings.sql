-- Two coils of one housing are read together: the other coil alone, and both in series.

ALTER TABLE measurements ADD COLUMN second TEXT;    -- JSON as of recording: the other coil, this one open
ALTER TABLE measurements ADD COLUMN series TEXT;    -- JSON as of recording: both in series
