"""Tolerances of the tests of wiring, circuit, filters and sound, each with its reason."""

from __future__ import annotations

# --- Filters against the circuit (the contract of the design, at 48 kHz)

CONTRACT_LEVEL_DB = 0.01
CONTRACT_PHASE_DEG = 0.1
CONTRACT_TOP_LEVEL_DB = 0.15
"""20 Hz to 18 kHz for the first two, to 20 kHz for the third."""

AT_48 = (0.006, 0.05, 0.02)
"""dB, degrees, dB to 20 kHz: the largest of 300 random settings were 0.0028, 0.029, 0.0125. A design that
meets the contract but has grown twice as bad is noticed."""
AT_44 = (0.02, 0.15, 0.11)
"""The same at 44.1 kHz, where 20 kHz is nearer to half the rate: measured 0.0103, 0.076, 0.055."""
AT_96 = (0.0008, 0.01, 0.0017)
"""The same at 96 kHz: measured 0.00042, 0.0042, 0.00085."""

OWN_REPORT = 0.35
"""By how much of the contract a bank's own figures may miss an independent measurement: the two look at
different frequencies. Measured 0.05 of the bar at 48 kHz, 0.25 at 44.1 kHz."""

TWIN_FACTOR = 1.2
"""A twin is off by this much more than its tolerance and must be refused."""

# --- Running a bank

SAME_SAMPLES = 1e-11
"""Relative to the largest sample, -220 dB: another order of additions in double precision, where sections up
to 4000 times as large as their sum cancel. Measured 3.4e-12 over forty banks, 1e-15 in a tame one."""

# --- Circuits

SOLVERS = 1e-9
"""Relative to the largest entry: two ways of solving one network of some twenty nodes, whose matrices have
condition numbers up to 1e6."""

SAME_NETWORK = 1e-6
"""Relative, on responses themselves: as above, where a response is a thousandth of its terms."""

MICROOHM = 1e-6
"""Ohm: an impedance below this is a short."""

CONTINUOUS = 1e-5
"""A knob 1e-9 of its travel away from its end: of the largest pots, 10 MΩ, that is 10 mΩ, against 1 kΩ of
the smallest parts drawn."""

PASSIVE = 1e-9
"""Relative slack for sums of squares and real parts that a passive network may not exceed."""

# --- Closed forms

PRINTED_DB = 5e-5
"""The worked values are printed to four decimals of a decibel."""
FORMULA = 1e-9
"""Relative: one formula against the general solver."""
PRINTED = 5e-5
"""Relative: worked impedances are printed to 0.01 Ω or seven digits, resonances to 0.1 Hz or 0.1 kΩ of some
hundreds."""
PRINTED_DEG = 6e-4
"""Degrees: worked phases are printed to three decimals."""
TWO_COIL_UNIT = 0.01
"""Check 3 of the published values: 1 % of 319 kΩ."""

# --- Moving knobs

ARTEFACT_DB = -90.0
"""The bar of the design for flips and sweeps, re signal."""
STEPS_DB = -65.0
"""Rendering of a sweep in steps of 5 ms against 1 ms: measured -69.5 dB or better from 0.25 s per full turn
(-89.6 at 1 s). Steps of 10 ms leave -42 dB in the fastest, raised-cosine fades of 5 ms -49 dB."""
STEADY_DB = -150.0
"""The measure's own floor: a steady sine."""
