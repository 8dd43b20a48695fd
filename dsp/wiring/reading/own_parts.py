"""Parts of somebody's own library, written out where a wiring names them with ``like:``.

A wiring that is kept never names one: whoever opens it elsewhere has no such library.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from dsp.documents.tree import Entries, Node, Text
from dsp.parts.library.entry import Entry
from dsp.parts.library.index import LIBRARY
from dsp.wiring.reading.parts import tree_of


def own_likes(tree: Node) -> dict[str, str]:
    """Return the parts that are like something the library lacks.

    Returns
    -------
    dict of str to str
        The name after ``like:`` by the part's name.
    """
    return {key.text: like.text for key, _, like in _own(tree)}


def write_out(tree: Node, own: Mapping[str, Entry]) -> Node:
    """Return a wiring file's tree with values in place of own parts' names.

    Parameters
    ----------
    own : mapping of str to Entry
        The own library by name. A name that it lacks stays, for the reader to refuse.
    """
    found = {key.text: own[like.text] for key, _, like in _own(tree) if like.text in own}
    if not found or not isinstance(tree, Entries):
        return tree
    rows = ((key, _written(node, found) if key.text == "parts" else node) for key, node in tree.entries)
    return Entries(tuple(rows), tree.line)


def _own(tree: Node) -> Iterator[tuple[Text, Entries, Text]]:
    """Yield name, map and ``like`` of every part that names what the library lacks."""
    parts = tree.get("parts") if isinstance(tree, Entries) else None
    for key, node in parts.entries if isinstance(parts, Entries) else ():
        like = node.get("like") if isinstance(node, Entries) else None
        if isinstance(node, Entries) and isinstance(like, Text) and like.text not in LIBRARY:
            yield key, node, like


def _written(parts: Node, found: Mapping[str, Entry]) -> Node:
    assert isinstance(parts, Entries)  # else it has no parts that are like others
    rows = [(key, _part(node, found[key.text]) if key.text in found else node) for key, node in parts.entries]
    return Entries(tuple(rows), parts.line)


def _part(node: Node, entry: Entry) -> Node:
    assert isinstance(node, Entries)
    stated = {key.text for key, _ in node.entries}
    values = {"kind": entry.kind, **entry.fields}
    rows = [row for row in node.entries if row[0].text != "like"]
    rows += [(Text(k, node.line), tree_of(v, node.line)) for k, v in values.items() if k not in stated]
    return Entries(tuple(rows), node.line)
