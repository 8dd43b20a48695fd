"""What a knob may lead to."""

from __future__ import annotations

from collections.abc import Mapping

THIN, DARK, CLEAR, QUIETER, OTHER = "thin", "dark", "clear", "quieter", "other"
ENDS: Mapping[str, str] = {
    THIN: "less bass (below 250 Hz, re the total), no less treble",
    DARK: "less treble (above 3 kHz, re the total), no less bass",
    CLEAR: "more treble (above 3 kHz, re the total)",
    QUIETER: "softer, the timbre kept; goes with no other",
    OTHER: "any other timbre; goes with no other",
}
"""What a knob may lead to, with its meaning."""
