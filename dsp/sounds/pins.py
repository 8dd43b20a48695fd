"""Find the candidate that an expression names, in any order and overall phase."""

from __future__ import annotations

from dsp.errors import InputError, nearest
from dsp.parts.expression import Expression, Leaf, names_in, parse_expression
from dsp.sounds.candidates import Candidates
from dsp.sounds.topology import PARALLEL, SERIES, canonical_form


def find_pinned(found: Candidates, text: str) -> int:
    """Return the number of the candidate that sounds like an expression.

    Parameters
    ----------
    text : str
        Such as ``neck_a + -bridge_a``. Reversing a whole expression does not change the sound.

    Raises
    ------
    InputError
        If a part is unknown or named twice, or the network is not among the candidates.

    Examples
    --------
    >>> from dsp.parts.expression import Leaf
    >>> from dsp.parts.kinds import new_part
    >>> from dsp.parts.sketch import Sketch
    >>> from dsp.sounds.candidates import find_candidates
    >>> from dsp.wiring.model import Joint, Wiring
    >>> made = {"resistance": 6e3, "inductance": 2.4, "capacitance": 110e-12}
    >>> parts = {name: new_part("coil", at=at, **made) for name, at in (("neck", 0.16), ("bridge", 0.04))}
    >>> parts |= {"selector": Sketch({"1": Leaf("neck")}), "output": new_part("jack")}
    >>> ends = [(("selector", "hot"), ("output", "tip")), (("selector", "cold"), ("output", "sleeve"))]
    >>> joints = tuple(map(Joint, ends))
    >>> found = find_candidates(Wiring("two coils", "", parts, joints, selector="selector"))
    >>> i = find_pinned(found, "-bridge + neck")
    >>> found.expression_text(i), find_pinned(found, "-neck + bridge") == i
    ('neck + -bridge', True)
    """
    expression = parse_expression(text, f"pin '{text}'")
    names = list(names_in(expression))
    for name in names:
        if name not in found.names:
            allowed = f"names of {', '.join(found.names)}"
            raise InputError(f"pin '{text}'", f"'{name}'", allowed, nearest(name, found.names))
    signs: dict[int, int] = {}
    shape = _shape(expression, found.names, 1, signs)
    first = signs[min(signs)]
    wanted = [signs.get(k, 0) * first for k in range(len(found.names))]
    for i, network in enumerate(found.networks):
        if network.mask == sum(1 << k for k in signs) and canonical_form(network) == shape:
            row = [int(sign) for sign in found.signs[i]]
            if all(a == b for a, b in zip(row, wanted, strict=True) if a != 0 and b != 0):
                return i
    raise InputError(f"pin '{text}'", "a sound that is not searched", "a network of the coils searched among")


def _shape(expression: Expression, names: tuple[str, ...], sign: int, signs: dict[int, int]) -> object:
    """Return an expression without its order, and record the coils' phases."""
    turned = -sign if expression.reversed else sign
    if isinstance(expression, Leaf):
        k = names.index(expression.name)
        signs[k] = turned
        return k
    kind = SERIES if expression.series else PARALLEL
    members: list[object] = []
    for member in expression.members:
        shape = _shape(member, names, turned, signs)
        members += list(shape[1]) if isinstance(shape, tuple) and shape[0] == kind else [shape]
    return (kind, frozenset(members))
