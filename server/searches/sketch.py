"""A wiring's switch taken out and a sketch put in its place, as edits of the draft.

What the controls hang on is kept; the coils and every switch come off; the sounds that the
selector's positions gave become the sketch's first ones.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from dsp.errors import InputError
from dsp.facts.connection import MESH, SERIES, CoilLeaf, Tree
from dsp.facts.position import position_facts
from dsp.parts.kind import Part, Terminal
from dsp.parts.kinds import is_sensing, kind_of, positioned_of
from dsp.wiring.editing.document import Edit
from dsp.wiring.model import Wiring
from dsp.wiring.union import Merge
from server.wirings.text import WiringText

NAME = "selector"
ALLOWED = "controls that every coil reaches at one point, as one volume and one tone do"


def sketch_edits(wiring: Wiring) -> list[dict[str, Any]]:
    """Edits that make a wiring with a switch one with a sketch.

    Parameters
    ----------
    wiring : Wiring
        Whose selector is a switch, or that has none.

    Returns
    -------
    list of dict
        ``path`` and ``value``, as a draft has them; empty if the selector is a sketch already.

    Raises
    ------
    InputError
        If coils reach the controls at several points (a volume each), or nowhere.
    """
    if wiring.sketch is not None:
        return []
    name = wiring.selector or _free(wiring)
    hot, cold = _ends(wiring)
    positions, labels = _positions(wiring)
    sounds = ", ".join(f"{position}: {_quoted(text)}" for position, text in positions.items())
    joints = [list(_kept(wiring, joint.terminals)) for joint in wiring.joints]
    joints = [joint for joint in joints if len(joint) > 1]
    for end, terminals in (("hot", hot), ("cold", cold)):
        joint = next((one for one in joints if set(one) & set(terminals)), None)
        if joint is None:
            joints.append([(name, end), terminals[0]])
        else:
            joint.insert(0, (name, end))
    written = ", ".join("[" + ", ".join(f"{part}.{lead}" for part, lead in joint) + "]" for joint in joints)
    said = ", ".join(f"{position}: {_quoted(text)}" for position, text in labels.items())
    return [
        {"path": ["parts", name], "value": f"{{kind: sketch, positions: {{{sounds}}}}}"},
        {"path": ["joints"], "value": f"[{written}]"},
        {"path": ["labels"], "value": f"{{{said}}}"},
    ]


def sketched_sounds(wiring: Wiring) -> dict[str, str]:
    """The expressions that a sketch in the place of a switch would have.

    Returns
    -------
    dict of str to str
        By position; one whose sound no expression says is left out.

    Raises
    ------
    InputError
        As `sketch_edits`.
    """
    _ends(wiring)
    return _positions(wiring)[0]


def with_sketch(text: str, wiring: Wiring) -> str:
    """A wiring's text with a sketch in the place of its switch, comments kept.

    Parameters
    ----------
    wiring : Wiring
        What the text says.

    Raises
    ------
    InputError
        As `sketch_edits`.
    """
    sketched = WiringText(text, wiring.file)
    sketched.change([Edit(tuple(one["path"]), one["value"]) for one in sketch_edits(wiring)])
    return sketched.dump()


def without_sounds(text: str, wiring: Wiring) -> str:
    """A sketched wiring's text without its sounds: what a search is about.

    Parameters
    ----------
    wiring : Wiring
        What the text says.
    """
    if wiring.sketch is None or not wiring.coils:
        return text
    bare = WiringText(text, wiring.file)
    bare.put(["parts", str(wiring.selector), "positions"], {"1": next(iter(wiring.coils))})
    bare.drop("labels")
    return bare.dump()


def _ends(wiring: Wiring) -> tuple[list[Terminal], list[Terminal]]:
    """What of the controls coils and switches are soldered to: the hot side, and ground."""
    metal = [[(n, lead) for lead in kind_of(part).one_piece(part)] for n, part in wiring.parts.items()]
    nets = [*(joint.terminals for joint in wiring.joints), *metal]
    merge: Merge[Terminal] = Merge([terminal for net in nets for terminal in net])
    for net in nets:
        merge.join(net)
    sleeve = (wiring.jack, "sleeve")
    hot: list[list[Terminal]] = []
    cold: list[Terminal] = []
    for net in merge.classes():
        kept = list(_kept(wiring, net))
        if sleeve in net:
            cold = kept
        elif kept and len(kept) < len(net):
            hot.append(kept)
    if len(hot) != 1:
        got = "no point" if not hot else f"{len(hot)} points: {'; '.join(f'{p}.{e}' for (p, e), *_ in hot)}"
        raise InputError("where coils and switches reach the controls", got, ALLOWED)
    if not cold:
        raise InputError("ground", "nothing at the jack's sleeve", ALLOWED)
    return hot[0], cold


def _kept(wiring: Wiring, terminals: Iterable[Terminal]) -> Iterable[Terminal]:
    """Terminals that are neither a coil's nor a switch's."""
    return (t for t in terminals if not is_sensing(part := wiring.parts[t[0]]) and not _is_switch(part))


def _is_switch(part: Part) -> bool:
    kind = positioned_of(part)
    return kind is not None and not kind.sketched


def _positions(wiring: Wiring) -> tuple[dict[str, str], dict[str, str]]:
    """Sounds of the selector's positions as expressions, and their labels."""
    found: dict[str, str] = {}
    for one in position_facts(wiring, [wiring.setting(position) for position in wiring.positions]):
        if len(one.groups) == 1 and (text := _written(one.groups[0])):
            found[one.setting.position] = text
    if not found and not wiring.coils:
        raise InputError("coils", "no coil", "a wiring with coils")
    found = found or {"1": next(iter(wiring.coils))}
    labels = {position: wiring.labels[position] for position in found if position in wiring.labels}
    return found, labels


def _written(tree: Tree, *, inner: bool = False) -> str:
    """A tree as a sketch expression; nothing for one that is neither series nor parallel."""
    if isinstance(tree, CoilLeaf):
        return f"-{tree.name}" if tree.turned else tree.name
    members = [_written(member, inner=True) for member in tree.members]
    if tree.kind == MESH or not all(members):
        return ""
    text = (" + " if tree.kind == SERIES else " | ").join(members)
    return f"({text})" if inner else text


def _free(wiring: Wiring) -> str:
    """A name for the sketch of a wiring without a selector: by it the selector is known."""
    if NAME in wiring.parts:
        raise InputError(NAME, "a part of that name that selects nothing", "another name for it")
    return NAME


def _quoted(text: str) -> str:
    """A text as a value in one line of YAML."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
