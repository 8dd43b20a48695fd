"""Tolerances of the tests that render clips, each with its reason."""

CLIP_LEVEL_DB = 0.012
"""The contract's 0.01 dB, and 0.002 dB for the 32-bit samples and the finite clip of the test."""
CLIP_PHASE_DEG = 0.11
"""The contract's 0.1 degrees and as much again as the level's margin, 0.0002 rad."""
CLIP_TOP_DB = 0.155
"""The contract's 0.15 dB up to 20 kHz, with the same margin."""
SPECTRUM_DB = 0.05
"""Real recording: transfer of a clip against the computed response, coherent average; the filter's
0.01 dB plus the leakage of the windows between neighbouring bins."""
LOUDNESS_LU = 0.1
"""As EBU Tech 3341 asks of a meter."""
FLOAT32 = 1e-6
"""Relative; 32-bit float samples carry 24 bits, 6e-8, of which sums in tests use up some."""
WAVEFORM_DB = -100.0
"""Difference of a whole clip against the circuit, below 18 kHz. Measured: -127 to -130, where 32-bit
samples end; a level error of 0.001 dB alone makes -79."""
