"""An invented tenor guitar to search: a two-coil pickup at the bridge, a single coil at the neck."""

from __future__ import annotations

from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import parse_tree

TENOR = """\
format: 1
name: Tenor guitar, two-coil pickup and a single coil
instrument:
  scale: 615 mm
  strings:
    - {note: C3, gauge: 0.036 in, wound: true}
    - {note: G3, gauge: 0.024 in, wound: true}
    - {note: D4, gauge: 0.014 in}
    - {note: A4, gauge: 0.010 in}
parts:
  pa: {kind: coil, resistance: 4.3 kΩ, inductance: 2.0 H, capacitance: 150 pF,
    at: 57 mm, aperture: 9 mm, winding: forward, magnet: north,
    sensitivity: 0.055, eddy: [{share: 25 %, corner: 3.5 kHz}]}
  pb: {kind: coil, resistance: 4.2 kΩ, inductance: 1.95 H, capacitance: 150 pF,
    at: 39 mm, aperture: 9 mm, winding: reverse, magnet: south,
    sensitivity: 0.055, eddy: [{share: 25 %, corner: 3.5 kHz}]}
  ns: {kind: coil, resistance: 6.2 kΩ, inductance: 2.6 H, capacitance: 120 pF,
    at: 148 mm, aperture: 8 mm, winding: forward, magnet: north,
    sensitivity: 0.055, eddy: [{share: 8 %, corner: 8 kHz}]}
  volume: {kind: pot, resistance: 500 kΩ, taper: audio}
  tone: {kind: pot, resistance: 500 kΩ, taper: audio}
  tone_cap: {kind: capacitor, capacitance: 22 nF}
  selector:
    kind: sketch
    positions: {1: pa + pb, 2: pa, 3: ns}
  output: {kind: jack}
joints:
  - [selector.hot, volume.3, tone.2]
  - [tone.1, tone_cap.a]
  - [volume.2, output.tip]
  - [selector.cold, volume.1, tone_cap.b, output.sleeve]
load:
  cable: {length: 5 m, capacitance: 100 pF/m}
  amplifier: {resistance: 1 MΩ, capacitance: 20 pF}
"""


def tenor() -> Wiring:
    """Return the wiring; its selector is a sketch."""
    return read_wiring(parse_tree(TENOR, "tenor.yaml"), "tenor.yaml")
