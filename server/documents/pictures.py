"""Pictures of wirings, made in a helper process and kept by content in the cache folder."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

from dsp.wiring.model import Setting, Wiring
from server.documents.page_modules import script_of
from server.documents.wiring_changes import MODULE as CHANGES
from server.documents.wiring_changes import draw_changes
from server.documents.wiring_drawing import MODULE, SIMPLE, SMALL, document_style, draw_wiring
from server.files.cache import digest, found_text, kept_text, sources_digest
from server.files.yaml_text import parse_tree
from server.processes.helper import Helper

FOLDER = "pictures"
LONGEST_S = 60.0


class Pictures:
    """Makes pictures of lists and of changes, one at a time; keeps them."""

    def __init__(self) -> None:
        self._helper = Helper("the picture")

    def small(self, text: str) -> str:
        """Return the small picture of a wiring's text, as SVG.

        Raises
        ------
        InputError
            If the text is not a wiring.
        TooSlow, Unavailable
            As `Helper.call`.
        """
        made = kept_text(FOLDER, _small_name(text), "json", lambda: json.dumps(self._make(text)))
        return str(json.loads(made)["svg"])

    def changes(self, before: str, after: str) -> dict[str, Any]:
        """Return what changed between two texts of a wiring; see `draw_changes`.

        Raises
        ------
        InputError
            If one of them is not a wiring.
        TooSlow, Unavailable
            As `Helper.call`.
        """
        name = digest(before, after, CHANGES, program_digest())

        def make() -> str:
            made: dict[str, Any] = self._helper.call(draw_changed_texts, before, after, longest_s=LONGEST_S)
            return json.dumps(made, ensure_ascii=False)

        found: dict[str, Any] = json.loads(kept_text(FOLDER, name, "json", make))
        return found

    def close(self) -> None:
        """End the process."""
        self._helper.close()

    def _make(self, text: str) -> dict[str, Any]:
        made: dict[str, Any] = self._helper.call(draw_small, text, longest_s=LONGEST_S)
        return made


def draw_simple(text: str, wiring: Wiring, setting: Setting, title: str) -> str:
    """Return the simple picture of a setting, from the cache if it is there.

    Parameters
    ----------
    text : str
        Of the wiring.
    title : str
        Of the document.
    """
    name = digest(text, setting, SIMPLE, title, program_digest())
    return kept_text(
        FOLDER, name, "svg", lambda: draw_wiring(wiring, setting, detail=SIMPLE, title=title).svg
    )


def draw_small(text: str) -> dict[str, Any]:
    """Draw a wiring's text without words: its joints by their hues.

    Returns
    -------
    dict
        ``svg`` and ``laid``, see `Drawing`.
    """
    from dsp.wiring.reading.wiring import read_wiring

    drawn = draw_wiring(read_wiring(parse_tree(text, "wiring"), "wiring"), detail=SMALL)
    return {"svg": drawn.svg, "laid": drawn.laid}


def layout_of(text: str) -> dict[str, Any] | None:
    """Return the layout kept with a small picture, if there is one.

    A page that has it shows the drawing without laying it out.
    """
    found = found_text(FOLDER, _small_name(text), "json")
    if found is None:
        return None
    laid: dict[str, Any] = json.loads(found)["laid"]
    return laid


def _small_name(text: str) -> str:
    return digest(text, SMALL, program_digest())


def draw_changed_texts(before: str, after: str) -> dict[str, Any]:
    """Draw what changed between two texts of a wiring."""
    from dsp.wiring.reading.wiring import read_wiring

    old, new = (read_wiring(parse_tree(text, "wiring"), "wiring") for text in (before, after))
    return draw_changes(old, new)


@cache
def program_digest() -> str:
    """Return the digest of all that a picture depends on beside its wiring."""
    return digest(script_of(MODULE), script_of(CHANGES), document_style(), sources_digest(["dsp"]))
