"""Where the drawing's parts stand, written into a draft and its file."""

from __future__ import annotations

import pytest
from places import DEMO

from dsp.errors import InputError
from dsp.wiring.editing import placing
from server.wirings.drafts import document_of
from server.wirings.edit_names import edit_names
from server.wirings.text import WiringText

TEXT = (DEMO / "baritone.yaml").read_text(encoding="utf-8")
PLACES = {"selector": [520.0, 340.0, 1.0], "volume": [990.0, -430.0], "tone": [10.0, 20.0, 0.0]}


def place(text: str, edits, part: str, how: str, places):
    return placing.place(document_of(text, edits, "a file"), part, how, places)


def written(text: str, edits) -> str:
    file = WiringText(text, "a file")
    file.change(edits)
    file.wiring()
    return file.dump()


def test_the_first_move_writes_every_place_below_the_file() -> None:
    done = place(TEXT, (), "volume", placing.MOVED, PLACES)
    assert done.name == "Moved volume"
    assert len(done.edits) == 1
    assert written(TEXT, done.edits) == TEXT + (
        "drawing:\n  places:\n    selector: [520, 340, 1]\n    volume: [990, -430]\n    tone: [10, 20]\n"
    )
    assert edit_names(TEXT, done.edits) == ("the drawing laid out by hand",)


def test_later_moves_keep_the_comments_between_the_places() -> None:
    saved = written(TEXT, place(TEXT, (), "volume", placing.MOVED, PLACES).edits)
    saved = saved.replace("340, 1]", "340, 1]  # above the volume")
    done = place(saved, (), "tone", placing.TURNED, {**PLACES, "tone": [10.0, 20.0, 2.0]})
    assert (done.name, [edit.path for edit in done.edits]) == ("Turned tone", [("drawing", "places", "tone")])
    assert written(saved, done.edits) == saved.replace("tone: [10, 20]", "tone: [10, 20, 2]")
    back = place(saved, done.edits, "tone", placing.TURNED, PLACES)
    assert back.edits == ()


def test_tidying_takes_all_places_out_and_keeps_the_wires() -> None:
    saved = written(TEXT, place(TEXT, (), "volume", placing.MOVED, PLACES).edits)
    done = place(saved, (), "", placing.TIDIED, {})
    assert done.name == "Tidied the drawing"
    assert written(saved, done.edits) == TEXT
    wired = f"{saved}  wires: [[volume.2, output.tip]]\n"
    left = written(wired, place(wired, (), "", placing.TIDIED, {}).edits)
    assert left == f"{TEXT}drawing:\n  wires: [[volume.2, output.tip]]\n"


def test_a_place_of_no_part_is_refused() -> None:
    with pytest.raises(InputError, match="'volum'"):
        place(TEXT, (), "volume", placing.MOVED, {"volum": [1.0, 2.0]})
