"""An ideal transformer: two windings that share all their flux, for matching inside the guitar.

At every frequency the voltages have the ratio of the turns, and the currents its inverse. It has no
magnetising inductance, so it passes bass that a real one loses. It has no capacitance or loss.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from dsp.documents.field import quantity
from dsp.parts.kind import Complex, Conductor, Ends, Pair, Part, Refuse, Stamps, Symbol


@dataclass(frozen=True)
class Transformer(Part):
    """An ideal transformer: windings a-b and c-d, dots at a and c.

    Attributes
    ----------
    ratio : float
        Turns of a-b divided by turns of c-d: v_ab = ratio x v_cd, i_c = -ratio x i_a.
    """

    ratio: float


class TransformerKind(Conductor[Transformer]):
    """Ideal transformers."""

    name = "transformer"
    part = Transformer
    lead_names = ("a", "b", "c", "d")
    fields = (quantity("ratio", "number", (1e-3, 1e3), "turns of a-b over turns of c-d"),)

    def build(self, found: Mapping[str, Any], refuse: Refuse) -> Transformer:
        """Build a transformer."""
        return Transformer(found["ratio"])

    def symbol(self, part: Transformer) -> Symbol:
        """Draw two windings with a core between them and dots at a and c."""
        left, right = "a3 3 0 0 1 0 6" * 4, "a3 3 0 0 0 0 6" * 4
        return Symbol(
            f"M6 0V4{left}V32 M14 4V28 M18 4V28 M26 0V4{right}V32 M2 3h0.01 M30 3h0.01",
            (32, 32),
            {"a": (6, 0), "b": (6, 32), "c": (26, 0), "d": (26, 32)},
        )

    def value_text(self, part: Transformer) -> str:
        """Return the ratio as text."""
        return f"{part.ratio:.3g} : 1"

    def file_fields(self, part: Transformer) -> dict[str, Any]:
        """Return the kind and the ratio."""
        return {"kind": self.name, "ratio": f"{part.ratio:.3g}"}

    def branches(self, part: Transformer) -> tuple[Pair, ...]:
        """Return the leads of each winding."""
        return ("a", "b"), ("c", "d")

    def admittances(self, part: Transformer, s: Complex) -> tuple[None, None]:
        """Return no admittances for any shape of s; `ties` defines the part."""
        return None, None

    def ties(self, part: Transformer) -> tuple[tuple[float, ...], ...]:
        """Return the law v_ab - ratio v_cd = 0."""
        return ((1.0, -part.ratio),)

    def stamps(self, part: Transformer, branches: Sequence[Ends], build: Stamps) -> None:
        """Stamp one current, I in a-b and -ratio I in c-d; its row is the law."""
        first, second = branches
        at = build.current(first)
        build.tie(at, second, -part.ratio)

    def dc_ohms(self, part: Transformer) -> tuple[float, float]:
        """Return 0 ohm for each winding.

        A meter sends direct current, which no transformer passes from winding to winding. A real
        winding has a few ohms to some hundred; an ideal one has none.
        """
        return 0.0, 0.0

    def devices(self, part: Transformer) -> tuple[str, ...]:
        """Return one ending for each winding."""
        return "", "_cd"

    def netlist(self, part: Transformer, name: str, nodes: Sequence[Pair], emf: int) -> Iterator[str]:
        """Yield a controlled voltage in a-b and a controlled current in c-d."""
        (a, b), (c, d) = nodes
        yield f"V_{name} {a} {name}_a DC 0 AC 0"
        yield f"E_{name} {name}_a {b} {c} {d} {part.ratio:.17g}"
        yield f"F_{name}_cd {c} {d} V_{name} {-part.ratio:.17g}"
