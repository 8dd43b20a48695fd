"""Sound: levels, loudness, true peak, dither and the rendering of stems through a setting."""
