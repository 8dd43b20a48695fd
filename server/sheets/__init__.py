"""Build sheets on the bench: the sheet of a draft, its steps ticked off, its PDF."""
