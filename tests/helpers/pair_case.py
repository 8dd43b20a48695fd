"""One coil, a volume and a tone that is soldered before the volume or behind it."""

from __future__ import annotations

COIL_AT = "{COIL, at: 120 mm}"
STRINGS = """
instrument:
  scale: 648 mm
  strings: [{note: E2, gauge: 0.046 in, wound: true}, {note: E4, gauge: 0.010 in}]
"""
NO_LOAD = """
load:
  cable: {length: 0.01 m, capacitance: 1 pF/m}
  amplifier: {resistance: 1 GΩ, capacitance: 0 pF}
"""
PARTS = f"""
coil: {COIL_AT}
volume: {{kind: pot, resistance: 500 kΩ, taper: audio}}
tone: {{kind: pot, resistance: 500 kΩ, taper: audio}}
tone_cap: {{kind: capacitor, capacitance: 22 nF}}
output: {{kind: jack}}
"""
BEFORE = """
coil.start, volume.3, tone.2
tone.1, tone_cap.a
volume.2, output.tip
coil.finish, volume.1, tone_cap.b, output.sleeve
"""
"""The tone at lug 3 of the volume, on the coil's side."""
AFTER = """
coil.start, volume.3
tone.1, tone_cap.a
volume.2, tone.2, output.tip
coil.finish, volume.1, tone_cap.b, output.sleeve
"""
"""The tone at the wiper of the volume, on the jack's side."""
