"""Facts a technician decides by: those of a position, in numbers and words."""
