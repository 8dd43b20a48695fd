"""Tolerances of the checks on hum, meter, resonance and noise, each with its reason."""

from __future__ import annotations

CANCELS_DB = -200.0
"""Matched coils of opposite winding: what is left is rounding, some 1e-15 of the coils' hum."""

EXACT = 1e-9
"""Relative: the same closed form by another order of operations, matrices with condition up to 1e6."""

RESONANCE_HZ = 0.06
"""The worked peaks are printed to 0.1 Hz (0.05) and the search ends within a millionth of the frequency."""

RESONANCE_GRID_HZ = 0.2
"""One worked peak was read off a grid: the closed form's maximum lies at 3012.52 Hz, printed 3012.4."""

RESONANCE_DB = 6e-5
"""The worked heights are printed to four decimals."""

BANDWIDTH = 1e-5
"""Relative: the peak's own frequency is found to a millionth, and its flat top halves the digits."""

OHMMETER = 1e-7
"""Relative: the decks have 1e15 Ω across each of up to forty nodes, 4e-8 of the largest reading of 1 MΩ."""

NOISE_PUBLISHED = 0.001
"""Check 10 of the published values: 0.1 %."""

NOISE_SPICE = 1e-6
"""Relative: ngspice has the Boltzmann constant of before 2019, 1.7e-7 away in the density."""

A_TABLE_DB = 0.0505
"""The standard's table is rounded to 0.1 dB, the curve's 2.00 dB at 1 kHz to a hundredth; at exact
third-octave frequencies nothing else differs."""

NOISE_TOTAL = 0.002
"""Relative: two integrations on unlike grids, both finer than a hundredth of a decade."""

TWIN_FACTOR = 1.2
"""A twin is off by this much more than its tolerance and must be refused."""
