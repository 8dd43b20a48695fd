"""Searches in processes of their own: the range of sounds, lug charts, a knob's travel."""
