"""A wiring on the bench: what it is and how it sounds, live."""
