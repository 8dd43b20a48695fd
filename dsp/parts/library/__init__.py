"""Generic parts to start from, a file per family."""
