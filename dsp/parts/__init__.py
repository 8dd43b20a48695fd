"""The parts of a passive guitar circuit, one file per kind, and the table of their fields."""
