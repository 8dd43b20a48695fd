"""Live knobs of a bundle: what turns them, as pieces that are loaded when somebody does.

A voice names its model and its stems. Sounds of one wiring share stems, equal settings a model.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from dsp.errors import InputError
from server.bench.hearing import Bench
from server.bundles.page import Piece, deflate, piece_name
from server.database.store import Store
from server.proposals.knobs import TurnableSound, clip_levels, offered_sounds
from server.proposals.voices import Voice, make_voice
from server.refusals import Unavailable

Room = Callable[[bool], float]
"""The characters that pieces of live knobs may take in all; it is told whether a take has its own yet."""
Progress = Callable[[float], None]
"""Called with the share of takes whose live knobs are made."""


@dataclass
class LiveKnobs:
    """What turns the knobs in a bundle.

    Attributes
    ----------
    voices : dict of str to list of str
        By take: the piece with the voice of each sound, in order.
    pieces : dict of str to Piece
        By name, in the order in which they are needed.
    stems, models : dict of str to str
        SHA-256 of each file of stems and of each model, as a manifest names them.
    left_out : dict of str to str
        Why the knobs do not turn with a take; empty for a lack of room.
    """

    voices: dict[str, list[str]] = field(default_factory=dict)
    pieces: dict[str, Piece] = field(default_factory=dict)
    stems: dict[str, str] = field(default_factory=dict)
    models: dict[str, str] = field(default_factory=dict)
    left_out: dict[str, str] = field(default_factory=dict)

    @property
    def size(self) -> int:
        """Return the characters that this takes in a page."""
        return sum(len(one.element) for one in self.pieces.values()) + len(json.dumps(self.voices))

    def add(self, take: str, voices: Mapping[int, Voice]) -> LiveKnobs:
        """Return these knobs with those of one more take."""
        made = LiveKnobs(
            dict(self.voices), dict(self.pieces), dict(self.stems), dict(self.models), dict(self.left_out)
        )
        made.voices[take] = [made._add_voice(number, voice) for number, voice in voices.items()]
        return made

    def _add_voice(self, number: int, voice: Voice) -> str:
        model, sha256 = self._add_piece(voice.model, "model")
        self.models[str(number)] = sha256
        files = []
        for part, content in enumerate(voice.stems.files):
            file, sha256 = self._add_piece(content, "flac")
            self.stems[f"{voice.name} {part}"] = sha256
            files.append(file)
        text = json.dumps(voice.told(model, files), separators=(",", ":"))
        return self._add_piece(deflate(text.encode()), "json")[0]

    def _add_piece(self, content: bytes, ending: str) -> tuple[str, str]:
        """Add a piece; return its name and the SHA-256 of its content."""
        sha256 = hashlib.sha256(content).hexdigest()
        name = piece_name(sha256, ending)
        self.pieces.setdefault(name, Piece(name, content))
        return name, sha256


def make_live_knobs(
    bench: Bench, store: Store, proposal: str, takes: Sequence[str], room: Room, progress: Progress
) -> LiveKnobs:
    """Make the live knobs of a proposal.

    A take whose pieces find no room is left out, and so is one that is too long or not there any more.

    Parameters
    ----------
    takes : sequence of str
        Of the proposal, those first that matter most.

    Raises
    ------
    Unavailable
        If a take is being read by somebody else, or the program stops.
    """
    sounds, found = offered_sounds(store, proposal), LiveKnobs()
    for done, take in enumerate(takes, 1):
        try:
            more = found.add(take, _voices(bench, store, proposal, sounds, take))
        except Unavailable:
            raise
        except InputError as error:
            found.left_out[take] = str(error)
        else:
            if more.size <= room(bool(found.voices)):
                found = more
            else:
                found.left_out[take] = ""
        progress(done / len(takes))
    return found


def _voices(
    bench: Bench, store: Store, proposal: str, sounds: Mapping[int, TurnableSound], take: str
) -> dict[int, Voice]:
    levels = clip_levels(store, proposal, take)
    return {number: make_voice(bench, sound, take, levels[number]) for number, sound in sounds.items()}
