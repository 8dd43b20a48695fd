"""The text of a wiring file: read, changed, fitted, comments kept."""
