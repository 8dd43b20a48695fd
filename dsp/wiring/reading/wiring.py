"""Read a whole wiring file, format 1."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from typing import Any

from dsp.documents.tree import Entries, Items, Node, Reading, Text
from dsp.errors import Problem, some
from dsp.parts import fields
from dsp.parts.expression import names_in
from dsp.parts.jack import TIP
from dsp.parts.kind import Part, Terminal
from dsp.parts.kinds import KINDS, is_placed, plugged_of, positioned_of
from dsp.parts.library.index import LIBRARY
from dsp.parts.sketch import Sketch
from dsp.wiring.model import OUTPUT, Wiring
from dsp.wiring.reading.drawn import read_drawn
from dsp.wiring.reading.joints import read_couplings, read_joints
from dsp.wiring.reading.metal import check_metal
from dsp.wiring.reading.parts import assumptions_of, read_part
from dsp.wiring.reading.shafts import read_shafts
from dsp.wiring.reading.surroundings import read_instrument, read_labels, read_load
from dsp.wiring.reading.tolerances import read_tolerances

FORMAT = "1"
NAME = re.compile(r"[^\W\d][\w-]{0,59}")


def read_wiring(tree: Node, file: str) -> Wiring:
    """Read the wiring that a file's tree describes.

    Parameters
    ----------
    tree : Node
        From the file's text.
    file : str
        Its name, for problems and findings.

    Raises
    ------
    InputError
        With every problem of the file, in the order of its lines.
    """
    wiring, lacking = _read_whole(tree, file, whole=True)
    assert not lacking  # else they were raised
    return wiring


def read_unfinished(tree: Node, file: str) -> tuple[Wiring, tuple[Problem, ...]]:
    """Read a wiring that may lack a jack or its coils.

    Nothing can be computed of it then.

    Parameters
    ----------
    tree, file
        As for `read_wiring`.

    Returns
    -------
    tuple of (Wiring, tuple of Problem)
        The problems say what it lacks; none of a whole wiring.

    Raises
    ------
    InputError
        With every problem but these.
    """
    return _read_whole(tree, file, whole=False)


def coils_alone(tree: Node) -> Node:
    """Return the tree with instrument, coils and a jack: all a take needs."""
    if not isinstance(tree, Entries):
        return tree
    parts, line = tree.get("parts"), tree.line
    coils = {
        key.text: (key, value)
        for key, value in (parts.entries if isinstance(parts, Entries) else ())
        if "coil" in _kinds_meant(value)
    }
    jack = OUTPUT
    while jack in coils:
        jack += "_"
    whole = (Text(jack, line), Entries(((Text("kind", line), Text("jack", line)),), line))
    others = tuple(
        (key, value) for key, value in tree.entries if key.text in ("format", "name", "instrument")
    )
    return Entries((*others, (Text("parts", line), Entries((*coils.values(), whole), line))), line)


def _read_whole(tree: Node, file: str, *, whole: bool) -> tuple[Wiring, tuple[Problem, ...]]:
    reading = Reading(file)
    if not isinstance(tree, Entries):
        reading.refuse(tree, "the file", "a map that starts with format: 1")
        reading.finish()
        raise AssertionError  # finish() has raised
    wiring = _read(reading, tree)
    if whole or reading.problems:
        reading.problems += reading.lacking
    reading.problems.sort(key=_line_of)
    reading.finish()
    return wiring, tuple(reading.lacking)


def _line_of(problem: Any) -> int:
    digits = problem.where.rsplit(":", 2) if problem.where.count(":") else []
    return next((int(part) for part in digits if part.strip().isdigit()), 0)


def _read(reading: Reading, tree: Entries) -> Wiring:
    for key, _ in tree.entries:
        if key.text not in fields.TOP_KEYS:
            hint = reading.guess(key.text, fields.TOP_KEYS)
            reading.refuse(key, "the file", ", ".join(fields.TOP_KEYS), hint=hint)
    version = tree.get("format")
    if version is None or reading.text(version, "format") not in (FORMAT, None):
        got = "no format" if version is None else ""
        reading.refuse(version or tree, "format", "1", got=got)
    parts, nodes, assumed = _parts(reading, tree)
    unread = nodes.keys() - parts.keys()
    selector = _selector(reading, tree, parts, unread)
    placed: dict[str, str] = {}
    for name in parts:
        _check_sketch(reading, tree, name, parts, unread, placed)
    check_metal(reading, tree, parts, unread)
    joints = read_joints(reading, tree, parts)
    shafts = read_shafts(reading, tree, nodes, parts)
    tolerances = read_tolerances(reading, tree, parts)
    couplings = read_couplings(reading, tree, parts, unread)
    lines = {name: node.line for name, node in nodes.items()}
    load_node = tree.get("load")
    lines |= {key.text: key.line for key, _ in tree.entries if key.text in ("load", "instrument")}
    wiring = Wiring(
        reading.text(tree.get("name"), "name") or "",
        reading.file,
        parts,
        joints,
        couplings,
        read_load(reading, load_node),
        selector,
        read_labels(reading, tree),
        read_instrument(reading, tree.get("instrument")),
        shafts.ganged,
        shafts.turned,
        assumed,
        tolerances,
        lines,
        _output(reading, tree, parts, unread),
        read_drawn(reading, tree.get("drawing")),
    )
    _check_whole(reading, tree, wiring, unread)
    return wiring


def _parts(
    reading: Reading, tree: Entries
) -> tuple[dict[str, Part], dict[str, Node], dict[str, tuple[str, ...]]]:
    """Every part that can be built, the node of every part named, and fields left to defaults."""
    parts: dict[str, Part] = {}
    nodes: dict[str, Node] = {}
    assumed: dict[str, tuple[str, ...]] = {}
    node = tree.get("parts")
    if node is None:
        reading.refuse(tree, "parts", "a map of parts by name", got="no parts")
    for key, value in reading.entries(node, "parts"):
        nodes[key.text] = key
        if not NAME.fullmatch(key.text):
            reading.refuse(key, "a part's name", "letters, digits, _ and -, starting with a letter or _")
            continue
        part = read_part(reading, value, key.text)
        if part is not None:
            parts[key.text] = part
            if fields_left := assumptions_of(value, part):
                assumed[key.text] = fields_left
    return parts, nodes, assumed


def _selector(reading: Reading, tree: Entries, parts: dict[str, Part], unread: Collection[str]) -> str | None:
    node = tree.get("selector")
    name = reading.text(node, "selector")
    if node is None:
        name = "selector" if positioned_of(parts.get("selector")) else None
        sketches = [key for key, part in parts.items() if isinstance(part, Sketch) and key != name]
        for other in sketches if name is None and "selector" not in unread else ():
            reading.refuse(tree, other, "a sketch stands in for the selector: name it selector", got=other)
        return name
    switches = [key for key, part in parts.items() if positioned_of(part)]
    if name is None or name in unread:
        return None
    if name not in switches:
        reading.refuse(node, "selector", some(switches) or "a switch", hint=reading.guess(name, switches))
        return None
    return name


def _output(
    reading: Reading, tree: Entries, parts: dict[str, Part], unread: Collection[str]
) -> Terminal | None:
    """Read the lead of a jack at which everything is computed; None without one."""
    node = tree.get("output")
    text = reading.text(node, "output")
    if node is None or text is None or text.partition(".")[0] in unread:
        return None
    known = outputs_of(parts)
    name, _, lead = text.partition(".")
    if (name, lead or TIP) in known:
        return name, lead or TIP
    words = [".".join(one) for one in known]
    reading.refuse(node, "output", some(words) or "a jack", hint=reading.guess(text, words))
    return None


def outputs_of(parts: Mapping[str, Part]) -> tuple[Terminal, ...]:
    """Return every lead at which a wiring's sound may be computed."""
    jacks = ((name, part, kind) for name, part in parts.items() if (kind := plugged_of(part)))
    return tuple(
        (name, lead) for name, part, kind in jacks for lead in kind.signals(part, kind.plugs(part)[-1])
    )


def _check_sketch(
    reading: Reading,
    tree: Entries,
    name: str,
    parts: dict[str, Part],
    unread: Collection[str],
    placed: dict[str, str],
) -> None:
    """Check that a sketch's expressions name parts of the file that it can place, and it alone.

    Parameters
    ----------
    placed : dict of str to str
        The sketch that places each part; this function adds to it.
    """
    sketch = parts[name]
    if not isinstance(sketch, Sketch):
        return
    known = [key for key, part in parts.items() if is_placed(part)]
    for position, expression in sketch.positions.items():
        node = _at(tree, "parts", name, "positions", position) or tree
        for leaf in names_in(expression):
            if leaf not in known and leaf not in unread:
                what, hint = f"{name}.positions.{position}", reading.guess(leaf, known)
                reading.refuse(node, what, some(known) or "parts with two leads", got=f"'{leaf}'", hint=hint)
            elif placed.setdefault(leaf, name) != name:
                what, got = f"{name}.positions.{position}", f"'{leaf}', which {placed[leaf]} places"
                reading.refuse(node, what, "each part in one sketch", got=got)


def _at(node: Node | None, *path: str) -> Node | None:
    """The node at a place of the tree."""
    for name in path:
        node = node.get(name) if isinstance(node, Entries) else None
    return node


def _check_whole(reading: Reading, tree: Entries, wiring: Wiring, unread: Collection[str]) -> None:
    """Check what concerns the whole file: a jack, a coil, labels, places and balances."""
    parts_node = tree.get("parts")
    maybe = {kind for name in unread for kind in _kinds_meant(_at(parts_node, name))}
    jacks = list(wiring.jacks)
    where = parts_node or tree
    if not jacks and "jack" not in maybe and parts_node is not None:
        reading.lack(where, "parts", "one part of kind: jack", got="no jack")
    if len(jacks) > 1 and OUTPUT not in jacks and tree.get("output") is None:
        allowed = "one jack, one of them named output, or output: the jack to compute at"
        reading.refuse(where, "parts", allowed, got=some(jacks))
    if not wiring.coils and "coil" not in maybe and parts_node is not None:
        reading.lack(where, "parts", "at least one part of kind: coil", got="no coil")
    chosen = _at(tree, "selector")
    selector = chosen.text if isinstance(chosen, Text) else "selector"
    if wiring.selector is not None or (chosen is None and selector not in unread):
        _check_labels(reading, tree.get("labels"), wiring)
    _check_places(reading, tree, wiring)


def _kinds_meant(part: Node | None) -> tuple[str, ...]:
    """Kinds that an unreadable part may be meant to have: its own, or any where that is unknown."""
    kind = _at(part, "kind")
    like = _at(part, "like")
    if isinstance(kind, Text) and kind.text in KINDS:
        return (kind.text,)
    entry = LIBRARY.get(like.text) if isinstance(like, Text) else None
    return (entry.kind,) if entry is not None and kind is None else tuple(KINDS)


def _check_labels(reading: Reading, labels: Node | None, wiring: Wiring) -> None:
    """Check that labels name positions of the selector."""
    for key, _ in labels.entries if isinstance(labels, Entries) else ():
        if key.text not in wiring.positions:
            hint = reading.guess(key.text, wiring.positions)
            reading.refuse(key, "labels", some(wiring.positions), hint=hint)


def _check_places(reading: Reading, tree: Entries, wiring: Wiring) -> None:
    """Check that coils lie within the scale and balances have one level per string."""
    if wiring.instrument is None:
        return
    written = _at(tree, "instrument", "strings")  # one that cannot be read is a string nonetheless
    strings = len(written.items) if isinstance(written, Items) else 0
    for name, coil in wiring.coils.items():
        node = Text(name, wiring.lines.get(name, 0))
        if coil.at_m is not None and not coil.at_m < wiring.instrument.scale_m:
            reading.refuse(node, f"{name}.at", "less than the scale", got=f"{1000 * coil.at_m:g} mm")
        levels = len(coil.string_balance_db)
        if strings and levels and levels != strings:
            reading.refuse(node, f"{name}.string_balance", f"{strings} levels", got=f"{levels} levels")
