"""The requests about sound, checked for shape and size, and the one step from them to a `Hearing`."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

from fastapi import Request, WebSocket
from pydantic import Field, FiniteFloat, StringConstraints

from dsp.wiring.model import Setting, Wiring
from server.bench.hearing import Bench, Draft, Hearing
from server.commissions import versions
from server.web.fields import Body, Edits, Id
from server.wirings.text import Edit

MOST_NAMES = 64
Name = Annotated[str, StringConstraints(max_length=100)]
Knobs = Annotated[dict[Name, FiniteFloat], Field(max_length=MOST_NAMES)]
Switches = Annotated[dict[Name, Name], Field(max_length=MOST_NAMES)]


class DraftForm(Body):
    """A version and the edits made to it since."""

    version: Id
    edits: Edits = Field([])

    def draft(self) -> Draft:
        """Return the draft of the request."""
        return Draft(self.version, tuple(Edit(*edit.pair()) for edit in self.edits))


class SettingForm(Body):
    """A position, knobs 0 to 10 and switches; what is left out rests."""

    position: Name
    knobs: Knobs = Field(default_factory=dict)
    switches: Switches = Field(default_factory=dict)

    def setting(self, wiring: Wiring) -> Setting:
        """Return the whole setting of a wiring, or raise InputError."""
        return wiring.setting(self.position, self.knobs, self.switches)


class HearingForm(Body):
    """A draft at a setting."""

    draft: DraftForm
    setting: SettingForm

    def hearing(self) -> Hearing:
        """Return the request without a take."""
        setting = self.setting
        return Hearing(self.draft.draft(), setting.position, setting.knobs, setting.switches)


class LiveForm(HearingForm):
    """Asks for the filters of a setting, and for its level on a take."""

    take: Id | None = None
    id: Annotated[int, Field(ge=0, le=2**53)] = 0

    def hearing(self) -> Hearing:
        """Return the request with its take."""
        return replace(super().hearing(), take=self.take)


def bench_of(connection: Request | WebSocket) -> Bench:
    """Return the server's bench; the first request makes it."""
    state = connection.app.state
    if not hasattr(state, "bench"):
        library, store = state.library, state.store
        state.bench = Bench(
            lambda version: str(versions.get_version(store, version)["text"]),
            library.performance,
            library.prepare,
        )
    bench: Bench = state.bench
    return bench
