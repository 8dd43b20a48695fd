"""Generic parts to start from, one file per family."""
