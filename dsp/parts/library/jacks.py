"""Generic jacks (common practice): lugs beside tip and sleeve, and what a plug moves."""

from __future__ import annotations

from dsp.parts.library.entry import Entry


def _jack(name: str, about: str, lugs: tuple[str, ...] = (), **contacts: list[list[str]]) -> Entry:
    """Return an entry with lugs, and contacts where a plug moves some."""
    moved = {"contacts": {"out" if state == "out" else "in": groups for state, groups in contacts.items()}}
    return Entry(
        name, "jack", about, {**({"lugs": list(lugs)} if lugs else {}), **(moved if contacts else {})}
    )


JACKS: tuple[Entry, ...] = (
    _jack("jack_mono", "Jack with tip and sleeve"),
    _jack("jack_stereo", "Jack with tip, ring and sleeve; a mono plug joins ring and sleeve", ("ring",)),
    _jack(
        "jack_closed",
        "Jack whose tip rests on a lug that a plug lifts it from",
        ("tip_switch",),
        out=[["tip", "tip_switch"]],
        plug=[],
    ),
    _jack(
        "jack_stereo_closed",
        "Jack with tip, ring and sleeve; tip and ring each rest on a lug that a plug lifts them from",
        ("ring", "tip_switch", "ring_switch"),
        out=[["tip", "tip_switch"], ["ring", "ring_switch"]],
        plug=[],
    ),
    _jack(
        "jack_make",
        "Jack with a pair of contacts of its own that a plug closes",
        ("A0", "A1"),
        out=[],
        plug=[["A0", "A1"]],
    ),
    _jack(
        "jack_change_over",
        "Jack with a change-over contact of its own: a plug moves A0 from A1 to A2",
        ("A0", "A1", "A2"),
        out=[["A0", "A1"]],
        plug=[["A0", "A2"]],
    ),
)
