"""Recordings: pitch, notes and strings found, then filtered into each coil."""
