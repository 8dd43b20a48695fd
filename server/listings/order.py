"""A listing as the bench asks for it: every wiring and take with a name of its own for its files."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from dsp.errors import InputError
from server.commissions import versions
from server.commissions.versions import version_row
from server.database.store import Store
from server.files.audio_formats import Encoding
from server.files.names import file_stem, has_duplicate, make_unique
from server.listings.making.file_reader import LOSSLESS_DEPTH, pattern_problems
from server.listings.store import Asked, ListedTake, ListedWiring
from server.refusals import Unknown
from server.takes.library import Library


def asked(
    store: Store,
    library: Library,
    title: str,
    wirings: Sequence[tuple[str, Sequence[str]]],
    takes: Sequence[str],
    options: Mapping[str, Any],
) -> Asked:
    """What a listing is to hold, with a name of its own for every file.

    Parameters
    ----------
    store : Store
    library : Library
    title : str
    wirings : sequence of tuple
        Ids of versions, each with the positions wanted; none for all.
    takes : sequence of str
        Ids.
    options : mapping
        As JSON; see `Asked`.

    Raises
    ------
    Unknown
        For a version or a take that there is not.
    InputError
        For options that do not go together.
    """
    encodings_of(options)
    if problems := pattern_problems(options["names"]):
        raise InputError.of(problems)
    known = {take.id: take for take in library.list_takes()}
    if missing := next((one for one in takes if one not in known), None):
        raise Unknown("take", f"'{missing}'", ", ".join(known))
    chosen = list(dict.fromkeys(takes))
    own = [_take_word(library, known[one].id, known[one].name) for one in chosen]
    files = make_unique(own)
    names = [known[one].name for one in chosen]
    listed = tuple(ListedTake(*one) for one in zip(chosen, names, files, strict=True))
    return Asked(title, tuple(_wirings(store, dict(wirings))), listed, options)


def _take_word(library: Library, take: str, name: str) -> str:
    """What a take is called in file names: one brought in has no file name of its own."""
    return file_stem([library.performance(take).name if ":" in take else name])


def _wirings(store: Store, wanted: Mapping[str, Sequence[str]]) -> Iterator[ListedWiring]:
    """The wirings with folders of their own: a commission's title where two names are one."""
    with store.read() as db:
        rows = {version: version_row(db, version) for version in wanted}
        homes = versions.homes_of(db, rows)
    plain = [file_stem([homes[version][0]]) for version in wanted]
    longer = [
        file_stem([homes[version][1], homes[version][0]]) if has_duplicate(name, plain) else name
        for version, name in zip(wanted, plain, strict=True)
    ]
    for (version, positions), folder in zip(wanted.items(), make_unique(longer), strict=True):
        row, (name, title) = rows[version], homes[version]
        shown = name if name == title else f"{title}: {name}"
        yield ListedWiring(version, row["sha256"], shown, folder, tuple(positions), row["text"])


def encodings_of(options: Mapping[str, Any]) -> tuple[Encoding, ...]:
    """How the files are stored, by the options of a listing.

    Raises
    ------
    InputError
        For what does not go together.
    """
    found: dict[str, Encoding] = {}
    for one in options["formats"]:
        name = one["format"]
        if name in found:
            raise InputError("formats", f"{name} again", "each format once")
        depth = one.get("depth") or ("" if Encoding(name).lossy else LOSSLESS_DEPTH)
        found[name] = Encoding(name, depth, one.get("quality", Encoding.quality))
        found[name].check_rate(options["rate_hz"])
    return tuple(found.values())
