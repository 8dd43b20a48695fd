"""Small wirings written within a test, and the line that a finding should name."""

from __future__ import annotations

from dsp.wiring.model import Wiring
from dsp.wiring.reading.wiring import read_wiring
from server.files.yaml_text import parse_tree

COIL = "kind: coil, resistance: 4 kΩ, inductance: 2.3 H, capacitance: 70 pF"
LOAD = """
load:
  cable: {length: 5 m, capacitance: 100 pF/m}
  amplifier: {resistance: 1 MΩ, capacitance: 20 pF}
"""


def wiring_text(parts: str, joints: str = "", rest: str = LOAD) -> str:
    """Return a wiring file; one part or joint per line, ``COIL`` for a coil's values."""
    lines = ["format: 1", "parts:", *_indented(parts)]
    if joints:
        lines += ["joints:", *(f"  - [{line}]" for line in _lines(joints))]
    return "\n".join(lines).replace("COIL", COIL) + "\n" + rest


def wiring_of(parts: str, joints: str = "", rest: str = LOAD) -> Wiring:
    """Return the wiring of such a file."""
    return read(wiring_text(parts, joints, rest))


def read(text: str) -> Wiring:
    """Read the wiring of a text, named ``small.yaml``."""
    return read_wiring(parse_tree(text, "small.yaml"), "small.yaml")


def marked_line(text: str) -> int:
    """Return the number of the line that ends in ``# here``; 0 if there is none."""
    return next((i for i, line in enumerate(text.splitlines(), 1) if line.endswith("# here")), 0)


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.strip().splitlines()]


def _indented(text: str) -> list[str]:
    return [f"  {line}" for line in _lines(text)]
