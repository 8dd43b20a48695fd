"""A position for every knob value, for a page without the circuit."""
