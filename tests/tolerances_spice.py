"""Tolerances of the comparison with ngspice, each with its reason.

A tolerance is smaller than the smallest mistake it should catch: one picofarad forgotten beside
500 pF of cable moves the level above the peak by 0.02 dB, one ohm of contact resistance in 5 kΩ
by 0.002 dB.
"""

from __future__ import annotations

LEVEL_DB = 0.001
"""The bar of the design: response against ngspice on the same network, 20 Hz to 20 kHz."""

PHASE_DEG = 0.01
"""The bar of the design, as above."""

FLOOR = 1e-8
"""-160 dB re the EMF. Below it a response is what rounding leaves of cancelling terms, so that a ratio says
nothing: there the difference itself is compared."""

FLOOR_DIFFERENCE = 1e-11
"""Below the floor: -220 dB re the EMF, a thousand times the 1e-14 ngspice leaves of a coil without return."""

FLOOR_OHM = 1e-3
"""The same floor for the output impedance: a volume at 0 leaves 0 Ω."""

FLOOR_DIFFERENCE_OHM = 1e-6
"""Below that floor: a microohm, beside kilohms everywhere else in these networks."""

TWIN_FACTOR = 1.2
"""Each comparison has a twin, off by this much more than the tolerance, that must be refused."""

REFERENCE_LEVEL_DB = 1e-6
"""Two netlists of one network in the SAME program (drawn by hand, built from the file): they differ by the
order of rounding alone. A thousandth of the bar, so that the reference is never what is tested."""

REFERENCE_PHASE_DEG = 1e-5
"""As above, a thousandth of the bar."""

CLOSED_FORM = 1e-11
"""Relative error of ngspice against a formula: double precision, some hundred operations."""

PUBLISHED_DB = 0.00006
"""Loaded references: printed to four decimals, so half a unit of the last one and a little for rounding."""

PUBLISHED_HZ = 0.15
"""Loaded references: peak frequencies printed to one decimal, of which the second (3012.4 Hz) was read off a
grid: the closed form's maximum lies at 3012.52 Hz. The others agree within 0.05 Hz."""
