"""The output jack: tip, sleeve, and on some a ring and contacts that a plug moves."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, ClassVar

from dsp.documents.field import Field
from dsp.documents.values import read_names
from dsp.parts.kind import Form, Part, Plugged, Refuse, Symbol, Terminal
from dsp.parts.switch import CONTACTS_SCHEMA, LUGS_SCHEMA, Groups, read_contacts, validate

TIP, RING, SLEEVE = "tip", "ring", "sleeve"
OUT, IN, MONO, STEREO = "out", "in", "mono", "stereo"
"""What is in a jack: nothing, or a plug. In a jack with a ring the plug is a mono or a stereo one."""


@dataclass(frozen=True)
class Jack(Part):
    """A jack: tip and ring (signals), sleeve (the reference), and contacts.

    Attributes
    ----------
    more : tuple of str
        Lugs beside tip and sleeve.
    contacts : mapping of str to tuple of tuple of str
        The groups of lugs joined without a plug (`OUT`) and with one (`IN`).
    """

    more: tuple[str, ...] = ()
    contacts: Mapping[str, Groups] = field(default_factory=dict)

    @property
    def signals(self) -> tuple[str, ...]:
        """The lugs that carry a signal out: the tip, and the ring if there is one."""
        return (TIP, RING) if RING in self.more else (TIP,)


class JackKind(Plugged[Jack]):
    """Jacks."""

    name = "jack"
    part = Jack
    lead_names = (TIP, SLEEVE)
    fields = (
        Field("lugs", "lugs", "lugs beside tip and sleeve: ring, and those of contacts that a plug moves"),
        Field("contacts", "contacts", "{out: groups, in: groups}: the lugs joined without and with a plug"),
    )
    forms: ClassVar[Mapping[str, Form]] = {
        "lugs": Form(read_names, lambda field: dict(LUGS_SCHEMA)),
        "contacts": Form(read_contacts, lambda field: dict(CONTACTS_SCHEMA)),
    }

    def leads(self, part: Jack) -> tuple[str, ...]:
        """Return tip, sleeve and the other lugs."""
        return (*self.lead_names, *part.more)

    def build(self, found: Mapping[str, Any], refuse: Refuse) -> Jack | None:
        """Build a jack."""
        more, contacts = found.get("lugs", ()), found.get("contacts", {})
        if taken := [lug for lug in more if lug in self.lead_names]:
            refuse("lugs beside tip and sleeve", got=taken[0], place=".lugs", path=("lugs",))
            return None
        if unknown := [state for state in contacts if state not in (OUT, IN)]:
            allowed = "out (no plug) and in (a plug)"
            refuse(allowed, got=unknown[0], place=".contacts", path=("contacts", unknown[0]))
            return None
        problems = validate((*self.lead_names, *more), {OUT: (), **contacts}, "")
        for problem in problems:
            path = ("contacts", problem.where.partition("position ")[2])
            refuse(problem.allowed, got=problem.got, hint=problem.hint, place=problem.where, path=path)
        return None if problems else Jack(tuple(more), contacts)

    def symbol(self, part: Jack) -> Symbol:
        """Draw the tip's spring over the sleeve's ring, other lugs below."""
        places = {TIP: (0.0, 6.0), SLEEVE: (0.0, 26.0)}
        places |= {lug: (0.0, 38.0 + 12.0 * i) for i, lug in enumerate(part.more)}
        more = "".join(f" M0 {y:g}H10" for _, y in list(places.values())[2:])
        strokes = f"M0 6H18L22 10L26 6 M0 26H30V14 M26 14H34V26H26Z{more}"
        return Symbol(strokes, (36.0, 32.0 + 12.0 * len(part.more)), places)

    def file_fields(self, part: Jack) -> dict[str, Any]:
        """Return the kind, and lugs and contacts if there are any."""
        lugs = {"lugs": list(part.more)} if part.more else {}
        contacts = {state: [list(group) for group in groups] for state, groups in part.contacts.items()}
        return {"kind": self.name, **lugs, **({"contacts": contacts} if contacts else {})}

    def find_unjoined(self, part: Jack, loose: Sequence[str]) -> Iterator[tuple[str, tuple[str, ...]]]:
        """Yield a finding for a loose tip or sleeve: a jack needs both."""
        for lead in loose:
            if lead in self.lead_names:
                yield "jack lug never joined", (lead,)

    def plugs(self, part: Jack) -> tuple[str, ...]:
        """Return what may be in the jack, nothing first."""
        return (OUT, MONO, STEREO) if RING in part.more else (OUT, IN)

    def signals(self, part: Jack, plug: str) -> tuple[str, ...]:
        """Return the lugs that a plug carries signals from."""
        if plug == OUT:
            return ()
        return part.signals if plug == STEREO else (TIP,)

    def joints(self, part: Jack, name: str, plug: str) -> Iterator[tuple[Terminal, ...]]:
        """Yield the groups of lugs joined; a mono plug grounds the ring."""
        groups = part.contacts.get(OUT if plug == OUT else IN, ())
        for group in (*groups, *([(RING, SLEEVE)] if plug == MONO else [])):
            yield tuple((name, lug) for lug in group)
