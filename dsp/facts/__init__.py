"""What a technician decides by: facts of a position, in numbers and words."""
