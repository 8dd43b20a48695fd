"""Is the built guitar the drawn one: bands of readings, faults, the spread of parts."""
