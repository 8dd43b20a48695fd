"""Make a bundle of a proposal: one file to mail, or a folder for any web host, as a ZIP or not."""

from __future__ import annotations

import base64
import hashlib
import io
import math
import zipfile
from dataclasses import dataclass
from typing import Any, Literal

from dsp.chain.ways import WAYS
from server.answers.manifests import keep_manifest
from server.bench.hearing import Bench
from server.bundles.live import LiveKnobs, Progress, Room, make_live_knobs
from server.bundles.page import (
    PART_BYTES,
    Piece,
    deflate,
    make_page,
    page_script,
    piece_name,
    piece_parts,
    piece_script,
)
from server.database.store import Store
from server.proposals.clip_files import read_clip
from server.proposals.views import for_file
from server.refusals import Conflict

Form = Literal["file", "zip"]
MEDIA = {"file": "text/html; charset=utf-8", "zip": "application/zip"}
PAGE = "index.html"
FOLDER = "sounds"
HEAD = "head"
"""Name of the piece in the page that holds the beginning of the sound heard first."""
HEAD_BYTES = 18_000
"""Of that beginning: about 2 s. On a line of 400 kbit/s the rest comes while they are heard."""
ZIP_DATE = (1980, 1, 1, 0, 0, 0)
"""Of every file in a ZIP, so that the same content gives the same bytes."""
ZIP_MODE = 0o644 << 16
UNIX = 3
MOST_MAILED = 20_000_000
"""Bytes that most mail servers take as an attachment (common practice)."""
MOST_FILLED = 8_000_000
"""Bytes up to which one file is filled with live knobs beyond those of one take."""

TOO_LARGE = "Most mail servers refuse a file of more than 20 MB: give it on a stick, or save the folder."
NO_ROOM = "the file would be too large; the folder has them"


@dataclass(frozen=True)
class Bundle:
    """A bundle to be saved.

    Attributes
    ----------
    name : str
        A file name; it does not tell who the customer is.
    note : str
        What to know before it is sent; empty for nothing.
    """

    name: str
    media: str
    content: bytes
    note: str


def make_bundle(
    bench: Bench, store: Store, proposal: str, form: Form, progress: Progress = lambda share: None
) -> Bundle:
    """Return a bundle of a proposal.

    One file has the live knobs of as many takes as fit into 8 MB, and those of one take if it can still be
    mailed then. A folder has all: its page loads what is asked for.

    Raises
    ------
    Unknown
        If there is no such proposal.
    Conflict
        If its sounds are still being prepared.
    InputError
        If a clip is missing.
    Unavailable
        If a take is being read by somebody else, or the program stops.
    """
    making = _gather(bench, store, proposal, progress)
    stem = f"sounds-to-choose-from-{making.offer['created'][:10]}"
    if form == "zip":
        files, note = making.folder_files()
        return Bundle(f"{stem}.zip", MEDIA[form], _zip(files), note)
    page, note = making.file()
    return Bundle(f"{stem}.html", MEDIA[form], page, note)


def make_folder_files(
    bench: Bench, store: Store, proposal: str, progress: Progress = lambda share: None
) -> tuple[dict[str, bytes], str]:
    """Return the folder's files by their paths, and what to know before.

    See `make_bundle`.
    """
    return _gather(bench, store, proposal, progress).folder_files()


@dataclass(frozen=True)
class _Making:
    """A proposal on its way into a bundle.

    Attributes
    ----------
    offer : dict
        What the page shows.
    pieces : tuple of Piece
        Sounds and pictures, in the order in which they are needed.
    """

    bench: Bench
    store: Store
    proposal: str
    progress: Progress
    offer: dict[str, Any]
    pieces: tuple[Piece, ...]

    def file(self) -> tuple[bytes, str]:
        """Return the page that holds everything, and what to know."""
        bare = len(make_page({"offer": self.offer}, self.pieces))
        live = self._live(lambda has_some: (MOST_FILLED if has_some else MOST_MAILED) - bare)
        page = make_page(self._sent(live), (*self.pieces, *live.pieces.values()))
        notes = [TOO_LARGE] if len(page) > MOST_MAILED else []
        return page, " ".join([*notes, *self._lacking(live)])

    def folder_files(self) -> tuple[dict[str, bytes], str]:
        """Return the page, the scripts beside it by their paths, and what to know."""
        first, *others = self.pieces
        live = self._live(lambda has_some: math.inf)
        head, rest = first.content[:HEAD_BYTES], Piece(first.name, first.content[HEAD_BYTES:])
        clip = self.offer["items"][0]["clips"][self.offer["takes"][0]["id"]]
        begun = {"name": first.name, "seconds": clip["seconds"]}
        folder = {"path": FOLDER, "part": PART_BYTES, "first": begun}
        files = {PAGE: make_page(self._sent(live, folder), (Piece(HEAD, head),), packed=True)}
        parts = [rest, *(part for piece in (*others, *live.pieces.values()) for part in piece_parts(piece))]
        files |= {f"{FOLDER}/{part.name}.js": piece_script(part) for part in parts}
        return files, " ".join(self._lacking(live))

    def _live(self, room: Room) -> LiveKnobs:
        takes, way = _takes(self.offer), WAYS[self.offer["ways"][0]["name"]]
        if way.oversampling:  # a page that is a file does not run what bends
            return LiveKnobs(left_out=dict.fromkeys(takes, f"through {way.name} they turn by the link alone"))
        return make_live_knobs(self.bench, self.store, self.proposal, takes, room, self.progress)

    def _lacking(self, live: LiveKnobs) -> list[str]:
        """Return why the knobs do not turn with some takes, a sentence each."""
        names = {take["id"]: take["name"] for take in self.offer["takes"]}
        return [
            f"The knobs do not turn with “{names[take]}”: {why or NO_ROOM}."
            for take, why in live.left_out.items()
        ]

    def _sent(self, live: LiveKnobs, folder: dict[str, Any] | None = None) -> dict[str, Any]:
        """Keep the manifest of what is sent, and return what the page needs."""
        program = hashlib.sha256(page_script().encode()).hexdigest()
        sent = keep_manifest(self.store, self.proposal, page=program, stems=live.stems, models=live.models)
        secret = base64.urlsafe_b64encode(sent.secret).decode().rstrip("=")
        answer = {"proposal": self.proposal, "sent": sent.sha256, "secret": secret}
        told = {"id": self.proposal, "offer": self.offer, "folder": folder}
        return {**told, "voices": live.voices, "answer": answer}


def _gather(bench: Bench, store: Store, proposal: str, progress: Progress) -> _Making:
    found: dict[str, tuple[str, str]] = {}

    def address(sha256: str, ending: str) -> str:
        name = piece_name(sha256, ending)
        found[name] = (sha256, ending)
        return name

    offer = for_file(store, proposal, address)
    if offer["ready"] < 1.0:
        got = "sounds that failed" if offer["failed"] else "sounds that are being prepared"
        raise Conflict("this proposal", got, "a proposal with all its sounds", "try again soon")
    for item in offer["items"]:
        for clip in item["clips"].values():
            del clip["flac"]  # every engine decodes the MP3 to the same samples
    first, *others = _takes(offer)
    names = [
        *_clips(offer, [first]),
        *(item["picture"]["file"] for item in offer["items"] if item["picture"]),
        *_clips(offer, others),
    ]
    pieces = []
    for name in dict.fromkeys(names):
        content = read_clip(store.folder, *found[name])
        pieces.append(Piece(name, deflate(content) if name.endswith(".svg") else content))
    return _Making(bench, store, proposal, progress, offer, tuple(pieces))


def _takes(offer: dict[str, Any]) -> list[str]:
    return [take["id"] for take in offer["takes"]]


def _clips(offer: dict[str, Any], takes: list[str]) -> list[str]:
    return [item["clips"][take]["mp3"] for take in takes for item in offer["items"]]


def _zip(files: dict[str, bytes]) -> bytes:
    """Return a ZIP whose bytes depend on the files alone."""
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as zipped:
        for path, content in files.items():
            entry = zipfile.ZipInfo(path, ZIP_DATE)
            entry.compress_type, entry.create_system, entry.external_attr = (
                zipfile.ZIP_DEFLATED,
                UNIX,
                ZIP_MODE,
            )
            zipped.writestr(entry, content)
    return whole.getvalue()
