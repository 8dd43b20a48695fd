"""The expression of a position as plain values: what a picture of the small network needs."""

from __future__ import annotations

from typing import Any

from dsp.parts.expression import Expression, Leaf, parse_expression
from dsp.parts.kinds import is_polar, kind_of
from dsp.wiring.model import Wiring


def network_record(wiring: Wiring, expression: Expression, *, turned: bool = False) -> dict[str, Any]:
    """Return an expression as plain values, from the hot end to the cold one.

    Parameters
    ----------
    turned : bool
        Turn the whole round.

    Returns
    -------
    dict
        ``kind`` is ``series`` or ``parallel``, with ``members``; or the kind of a part, with its
        ``name`` and whether it is ``turned``. Groups are never turned: their members are.
    """
    turned ^= expression.reversed
    if isinstance(expression, Leaf):
        part = wiring.parts.get(expression.name)
        kind = kind_of(part).name if part else "coil"
        polar = part is None or is_polar(part)
        return {"kind": kind, "name": expression.name, "turned": turned and polar}
    members = [network_record(wiring, one, turned=turned) for one in expression.members]
    if turned and expression.series:
        members.reverse()
    return {"kind": "series" if expression.series else "parallel", "members": members}


def network_of_text(wiring: Wiring, text: str) -> dict[str, Any]:
    """Return the network of a sound that a sketch of this wiring may have.

    Raises
    ------
    InputError
        If the text is no expression.

    Examples
    --------
    >>> from dsp.wiring.model import Wiring
    >>> network_of_text(Wiring(name="", file="", parts={}, joints=()), "-(neck + bridge)")["members"][0]
    {'kind': 'coil', 'name': 'bridge', 'turned': True}
    """
    return network_record(wiring, parse_expression(text))
