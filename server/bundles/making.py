"""Make a bundle of a proposal: one file to mail, or a folder for any web host, as a ZIP or not."""

from __future__ import annotations

import base64
import hashlib
import io
import zipfile
from dataclasses import dataclass
from typing import Any, Literal

from server.answers.manifests import keep_manifest
from server.bundles.page import Piece, make_page, page_script, piece_script
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

TOO_LARGE = "Most mail servers refuse a file of more than 20 MB: give it on a stick, or save the folder."


@dataclass(frozen=True)
class Bundle:
    """A bundle to be saved.

    Attributes
    ----------
    name : str
        A file name; it does not tell who the customer is.
    """

    name: str
    media: str
    content: bytes

    @property
    def note(self) -> str:
        """Return what to know before it is sent; empty for nothing."""
        return TOO_LARGE if self.media == MEDIA["file"] and len(self.content) > MOST_MAILED else ""


def make_bundle(store: Store, proposal: str, form: Form) -> Bundle:
    """Return a bundle of a proposal.

    Raises
    ------
    Unknown
        If there is no such proposal.
    Conflict
        If its sounds are still being prepared.
    InputError
        If a clip is missing.
    """
    offer, pieces = _gather(store, proposal)
    stem = f"sounds-to-choose-from-{offer['created'][:10]}"
    if form == "file":
        page = make_page(_sent(store, proposal, offer), pieces)
        return Bundle(f"{stem}.html", MEDIA[form], page)
    return Bundle(f"{stem}.zip", MEDIA[form], _zip(_folder_files(store, proposal, offer, pieces)))


def make_folder_files(store: Store, proposal: str) -> dict[str, bytes]:
    """Return the files of the folder by their paths in it.

    Raises
    ------
    Unknown, Conflict, InputError
        As `make_bundle`.
    """
    return _folder_files(store, proposal, *_gather(store, proposal))


def _sent(
    store: Store, proposal: str, offer: dict[str, Any], folder: str = "", first: str | None = None
) -> dict[str, Any]:
    """Keep the manifest of what is sent, and return what the page needs."""
    program = hashlib.sha256(page_script().encode()).hexdigest()
    sent = keep_manifest(store, proposal, page=program, stems={}, models={})
    secret = base64.urlsafe_b64encode(sent.secret).decode().rstrip("=")
    answer = {"proposal": proposal, "sent": sent.sha256, "secret": secret}
    clip = offer["items"][0]["clips"][offer["takes"][0]["id"]]
    begun = first and {"name": first, "seconds": clip["seconds"]}
    return {"id": proposal, "offer": offer, "folder": folder, "first": begun, "answer": answer}


def _folder_files(
    store: Store, proposal: str, offer: dict[str, Any], pieces: tuple[Piece, ...]
) -> dict[str, bytes]:
    first, *others = pieces
    head, rest = first.content[:HEAD_BYTES], Piece(first.name, first.content[HEAD_BYTES:])
    page = make_page(_sent(store, proposal, offer, FOLDER, first.name), (Piece(HEAD, head),), packed=True)
    return {PAGE: page} | {f"{FOLDER}/{one.name}.js": piece_script(one) for one in (rest, *others)}


def _gather(store: Store, proposal: str) -> tuple[dict[str, Any], tuple[Piece, ...]]:
    """Return what the page shows, and its pieces in the order in which they are needed."""
    offer = for_file(store, proposal, lambda sha256, ending: f"{sha256}.{ending}")
    if offer["ready"] < 1.0:
        got = "sounds that failed" if offer["failed"] else "sounds that are being prepared"
        raise Conflict("this proposal", got, "a proposal with all its sounds", "try again soon")
    for item in offer["items"]:
        for clip in item["clips"].values():
            del clip["flac"]  # every engine decodes the MP3 to the same samples
    first, *others = [take["id"] for take in offer["takes"]]
    names = [
        *_clips(offer, [first]),
        *(item["picture"]["file"] for item in offer["items"] if item["picture"]),
        *_clips(offer, others),
    ]
    pieces = []
    for name in dict.fromkeys(names):
        sha256, _, ending = name.partition(".")
        pieces.append(Piece(name, read_clip(store.folder, sha256, ending)))
    return offer, tuple(pieces)


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
