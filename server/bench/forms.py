"""What a page sends of a draft and a setting, checked for shape and size."""

from __future__ import annotations

from typing import Annotated

from fastapi import Request, WebSocket
from pydantic import Field, FiniteFloat, StringConstraints

from dsp.wiring.model import Setting, Wiring
from server.bench import hearing as drafts
from server.bench.stems import LiveTakes
from server.commissions import versions
from server.web.fields import Body, Draft, Id

MOST_NAMES = 64
Name = Annotated[str, StringConstraints(max_length=100)]
Knobs = Annotated[dict[Name, FiniteFloat], Field(max_length=MOST_NAMES)]
Switches = Annotated[dict[Name, Name], Field(max_length=MOST_NAMES)]


class SettingForm(Body):
    """A position, knobs 0 to 10 and switches; what is left out rests."""

    position: Name
    knobs: Knobs = Field(default_factory=dict)
    switches: Switches = Field(default_factory=dict)

    def of(self, wiring: Wiring) -> Setting:
        """The whole setting of a wiring; InputError for what it does not have."""
        return wiring.setting(self.position, self.knobs, self.switches)


class FiltersForm(Body):
    """Asks for the filters of a setting, and for its level on a take."""

    draft: Draft
    setting: SettingForm
    take: Id | None = None
    id: Annotated[int, Field(ge=0, le=2**53)] = 0


def draft_of(form: Draft) -> drafts.Draft:
    """A draft as it is looked up by."""
    return drafts.Draft(form.version, tuple(drafts.Edit(*edit.pair()) for edit in form.edits))


def drafts_of(connection: Request | WebSocket) -> drafts.Drafts:
    """The server's drafts."""
    state = connection.app.state
    if not hasattr(state, "drafts"):
        state.drafts = drafts.Drafts(lambda version: str(versions.version(state.store, version)["text"]))
    found: drafts.Drafts = state.drafts
    return found


def takes_of(connection: Request | WebSocket) -> LiveTakes:
    """The server's takes."""
    state = connection.app.state
    if not hasattr(state, "live_takes"):
        state.live_takes = LiveTakes(state.library.performance)
    found: LiveTakes = state.live_takes
    return found
