"""Every chart of a lean switch: the widest range it can make, proved."""
