"""A draft's text and edits as the operations of `dsp.wiring.editing` take them."""

from __future__ import annotations

from collections.abc import Sequence

from dsp.documents.tree import Entries, Node
from dsp.errors import InputError
from dsp.wiring.editing.document import RENAMED, Document, Edit
from server.files.yaml_text import parse_tree
from server.wirings.edit_names import node_of
from server.wirings.text import WiringText


def document_of(text: str, edits: Sequence[Edit], name: str) -> Document:
    """Return the document of a saved text and the edits made since.

    Parameters
    ----------
    name : str
        What errors call the text.

    Raises
    ------
    InputError
        If the text is no map, or an edit has no place in it.
    """
    edited = WiringText(text, name)
    edited.change(edits)
    return make_document(text, parse_tree(edited.dump(), name), edits, name)


def make_document(text: str, tree: Node, edits: Sequence[Edit], name: str) -> Document:
    """Return the document of a saved text and the tree that edits lead to.

    Parameters
    ----------
    text : str
        As saved.
    name : str
        What errors call the text.

    Raises
    ------
    InputError
        As `document_of`.
    """
    base = text
    if any(edit.path[0] == RENAMED for edit in edits):
        renamed = WiringText(text, name)
        renamed.rename_parts(edits)
        base = renamed.dump()
    values = tuple(node_of(edit.value) for edit in edits)
    return Document(_map(parse_tree(base, name), name), _map(tree, name), tuple(edits), values)


def _map(tree: Node, name: str) -> Entries:
    if not isinstance(tree, Entries):
        raise InputError(f"{name}:1", tree.describe(), "a map that starts with format: 1")
    return tree
