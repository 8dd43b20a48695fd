"""MIDI files as takes: their time, their notes, a hand that plays them."""
