"""What a drawing of a wiring shows: its parts and joints, and what sounds at a setting."""
