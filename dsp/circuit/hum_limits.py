"""The lines between hum that cancels, hum that mostly cancels and hum that is heard."""

from __future__ import annotations

CANCELLING_DB = -15.0
"""A residual below this counts as cancelling. Our own line: unlike coils in parallel leave -18 dB, a pair
against a third -6 dB."""
FULLY_DB = -40.0
"""A residual below this cancels fully, as a matched pair does; between the two lines hum mostly cancels.
Our own line: coils that differ by 1 %."""
