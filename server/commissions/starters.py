"""The wirings to start from: those of the demo, generic ones and a blank one."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from dsp.errors import InputError, nearest
from server.commissions import store as commissions
from server.database.store import Store
from server.files.yaml_text import read_text
from server.paths import demo_folder
from server.wirings.fitting import coil_names, scale_of

GENERIC = Path(__file__).with_name("starters")


@dataclass(frozen=True)
class Starter:
    """A wiring to start from.

    Attributes
    ----------
    name : str
        Its id in requests.
    about : str
        One sentence.
    demo : bool
        Whether the file lies with the demo.
    take : str
        The take that opens with it, where not every take has as many strings.
    """

    name: str
    title: str
    about: str
    file: str
    demo: bool = False
    take: str = ""

    def state(self) -> dict[str, str]:
        """Return what the page remembers of a commission that starts with it."""
        return {"take": self.take} if self.take else {}

    def text(self) -> str:
        """Return the wiring's text with its comments."""
        return read_text((demo_folder() if self.demo else GENERIC) / self.file)


STARTERS: dict[str, Starter] = {
    starter.name: starter
    for starter in (
        Starter(
            "blank", "Blank", "One coil straight to the jack: everything else is yours to add.", "blank.yaml"
        ),
        Starter(
            "one_coil",
            "One single coil, volume and tone",
            "The smallest whole instrument: one coil, two knobs, no selector.",
            "one_coil.yaml",
        ),
        Starter(
            "two_singles",
            "Two single coils, three-position toggle",
            "Neck, both in parallel, bridge; the middle position cancels most of the hum.",
            "two_singles.yaml",
        ),
        Starter(
            "three_singles",
            "Three single coils, five-position blade",
            "Each coil alone and the neighbours in parallel; the middle coil is reverse wound.",
            "three_singles.yaml",
        ),
        Starter(
            "two_humbuckers",
            "Two humbuckers, three-position toggle, push-pull split",
            "Neck, both, bridge; pulling the tone knob up leaves one coil of each.",
            "two_humbuckers.yaml",
        ),
        Starter(
            "six_sounds",
            "Six sounds sketched",
            "Two humbuckers and sounds written as expressions, before any switch is chosen.",
            "baritone_sketch.yaml",
            demo=True,
        ),
        Starter(
            "baritone",
            "Baritone, two humbuckers, six-way rotary",
            "A 686 mm baritone; the rotary splits and joins the coils in six ways.",
            "baritone.yaml",
            demo=True,
        ),
        Starter(
            "twelve",
            "Twelve-string, two single coils, toggles",
            "Two coils, a selector toggle, and toggles for series and phase.",
            "twelve.yaml",
            demo=True,
        ),
        Starter(
            "tenor",
            "Tenor guitar, a two-coil pickup and a single coil, five-position blade",
            "Where one coil of the pair plays, the tone knob leads evenly to a thin, clear voice.",
            "tenor.yaml",
            demo=True,
            take="demo:four_strings",
        ),
    )
}
"""Every starter by name, in the order shown."""

DEMO: dict[str, tuple[str, str, tuple[str, ...]]] = {
    "demo:tenor": ("Tenor guitar with a blade", "Demo", ("tenor",)),
    "demo:twelve": ("Twelve-string with toggles", "Demo", ("twelve",)),
    "demo:baritone": ("Baritone, 686 mm", "Demo", ("baritone", "six_sounds")),
}
"""The demo's commissions by origin: title, client, starters. The last made is listed first."""


def get_starter(name: str) -> Starter:
    """Return a starter by name.

    Raises
    ------
    InputError
    """
    if name not in STARTERS:
        raise InputError("starter", f"'{name}'", ", ".join(STARTERS), nearest(name, STARTERS))
    return STARTERS[name]


@functools.cache
def _starter_json(name: str) -> dict[str, Any]:
    one = STARTERS[name]
    text = one.text()
    return {
        "name": name,
        "title": one.title,
        "about": one.about,
        "scale": scale_of(text, name),
        "coils": [{"name": coil, "like": like} for coil, like in coil_names(text, name).items()],
    }


def list_starters() -> list[dict[str, Any]]:
    """Return every starter with its scale and its coils' library parts."""
    return [_starter_json(name) for name in STARTERS]


def ensure_demo(store: Store) -> None:
    """Insert the demo's commissions that the database lacks."""
    for origin, (title, client, names) in DEMO.items():
        if commissions.find_by_origin(store, origin) is None:
            wirings = {STARTERS[name].title: STARTERS[name].text() for name in names}
            state = STARTERS[names[0]].state()
            commissions.create(store, title, client, wirings, origin=origin, state=state)
