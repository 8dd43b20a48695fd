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
    base = WiringText(text, name)
    base.rename_parts(edits)
    edited = WiringText(base.dump(), name)
    edited.change([edit for edit in edits if edit.path[0] != RENAMED])
    values = tuple(node_of(edit.value) for edit in edits)
    return Document(_map(base.dump(), name), _map(edited.dump(), name), tuple(edits), values)


def _map(text: str, name: str) -> Entries:
    tree: Node = parse_tree(text, name)
    if not isinstance(tree, Entries):
        raise InputError(f"{name}:1", tree.describe(), "a map that starts with format: 1")
    return tree
