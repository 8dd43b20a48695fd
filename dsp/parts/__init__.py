"""The parts of a passive guitar circuit, a file per noun, and the table of their fields."""
