"""How evenly a knob changes the sound, and which parts make it more even."""
