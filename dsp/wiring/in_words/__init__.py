"""A new instrument in words: its pickups, controls, switch and sounds, as the text of a wiring file."""
