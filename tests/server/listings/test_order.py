"""What is ordered on the page: folders' names, and settings that a wiring cannot have."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from places import DEMO
from server_client import client_of

from server.commissions.versions import add_wiring
from server.listings import order
from server.wirings.text import load_wiring


def setting(name: str, **more: Any) -> dict[str, Any]:
    return {"name": name, "label": "", "knobs": {}, "switches": {}, "sweeps": [], **more}


def sweep(knob: str) -> dict[str, Any]:
    return {"knob": knob, "start": 0.0, "end": 10.0, "from_s": None, "to_s": None}


def test_a_setting_is_left_out_whose_knob_switch_or_sweep_a_wiring_lacks() -> None:
    settings = [
        setting("open"),
        setting("swell", sweeps=[sweep("tone"), sweep("blend")]),
        setting("turned", label="Turned down", knobs={"gain": 3.0}, switches={"phase": "2"}),
        setting("rise", sweeps=[sweep("tone")]),
    ]
    wiring = load_wiring(DEMO / "baritone.yaml")
    groups, left_out = order._groups_of({"settings": settings}, wiring, ())
    assert [group.name for group in groups] == ["open", "rise"]
    assert left_out == ("swell: it has no blend", "Turned down: it has no gain, phase")


def test_wirings_of_one_name_get_folders_with_the_names_of_their_commissions(tmp_path: Path) -> None:
    client = client_of(tmp_path, demo=True)
    store: Any = client.app.state.store  # type: ignore[attr-defined]
    commissions = client.get("/api/commissions").json()[:2]
    text = (DEMO / "baritone.yaml").read_text("utf-8")
    with store.write() as db:
        same = [add_wiring(db, one["id"], "Twin", text, note="")[1] for one in commissions]
        other = add_wiring(db, commissions[0]["id"], "Alone", text, note="")[1]
    ordered = list(order._order_wirings(store, dict.fromkeys((*same, other), ())))
    titles = [order.file_stem([one["title"], "Twin"]) for one in commissions]
    assert [one.folder for one in ordered] == [*titles, "Alone"]
